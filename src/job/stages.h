// The stages of the work on an open session; the entries of job.h put them together.
#pragma once

#include <unordered_map>

#include "job/job.h"
#include "measure/cache.h"
#include "session/session.h"
#include "solve/solve.h"

namespace samelight::job {

// Finds pictures under the given folders and adds what is new. `leave_out`: folders that hold our own files.
Result<StockAnswer> TakeStock(session::Session& session, const std::vector<fs::path>& film,
                              const std::vector<fs::path>& digital, const std::vector<fs::path>& leave_out,
                              const Work& work);

// Decodes and measures what has not been; every photograph that could be read is in `facts` afterwards.
struct MeasureAnswer {
  int measured = 0;                                    // anew
  std::unordered_map<PhotoId, measure::Cached> facts;  // without pixels
  std::vector<Problem> problems;
};
Result<MeasureAnswer> MeasureAll(session::Session& session, std::uint64_t memory_mib, const Work& work);

// Pairs unless the session holds an answer that was made from the same photographs and words; `again` pairs
// in any case.
Result<PairAnswer> PairAll(session::Session& session, const MeasureAnswer& measured, bool again,
                           const Work& work);

// What pairing is made from; `photos`: those that were measured, by id.
std::string PairDigest(const std::vector<record::Photo>& photos, const std::vector<record::Roll>& rolls,
                       const session::Standing& standing);

// Nothing was said or found since that pairs or the fit have not heard. Touches and follow need no new fit.
// What is missing in the cache is not looked for.
Result<bool> UpToDate(const session::Session& session, const session::Standing& standing);

// What the solve is asked of a session, without the pairs (which are large); and the pairs.
Result<solve::Request> RequestOfSession(const session::Session& session, const session::Standing& standing);
Status AddPairs(const session::Session& session, const session::Standing& standing, solve::Request& request);

// Solves, under the same rule.
Result<MatchAnswer> MatchAll(session::Session& session, bool again, const Work& work);

// One order into one folder. What is not delivered is added to `problems`.
Result<DeliverAnswer> DeliverAll(session::Session& session, const fs::path& out, const record::Order& order,
                                 const DeliverOptions& options, std::vector<session::Problem>& problems,
                                 const Work& work);
// The orders that `options` name or make (what they say of an order is said to the session), and all of them
// into their folders; problems are kept in the session.
Result<std::vector<record::Order>> OrdersOf(session::Session& session, const DeliverOptions& options);
Result<DeliverAnswer> DeliverOrders(session::Session& session, const fs::path& out,
                                    const std::vector<record::Order>& orders, const DeliverOptions& options,
                                    const Work& work);
// Says `fields` of the order `name` and keeps it; nothing is said when it stands so already.
Result<record::Order> SayOrder(session::Session& session, const std::string& name,
                               const OrderFieldWords& fields);
// The order `name` as it stands (a plain one, when none of that name is kept) with `fields`; and whether it
// is kept as it is.
Result<record::Order> OrderWith(const session::Standing& standing, const std::string& name,
                                const OrderFieldWords& fields);
bool Stands(const session::Standing& standing, const record::Order& order);
// Approves what was delivered of the order `name`; how many pictures that is. kNothingToDo: nothing was.
Result<int> SayApproved(session::Session& session, const std::string& name);

// Measures, pairs and solves what is not up to date: what delivering stands on.
struct Prepared {
  PairAnswer pair;
  MatchAnswer match;
  std::map<std::string, double> seconds;  // by stage
};
Result<Prepared> Prepare(session::Session& session, std::uint64_t memory_mib, bool again, const Work& work);

// report.json and report.html in `folder`.
Status WriteReports(session::Session& session, const fs::path& folder, const Work& work);
// The proof sheet (HTML).
Status WriteProofs(session::Session& session, const fs::path& file, const Work& work);

// The whole session as the reports tell it. `folder`: where outputs are told relative to.
Result<report::Report> MakeReport(const session::Session& session, const fs::path& folder);
// The same, but frames keep the reasons to look that a person has settled.
Result<report::Report> ReportAsSolved(const session::Session& session, const fs::path& folder);

// The file of a photograph in the cache folder: its analysis, and its picture for looking.
fs::path AnalysisFile(const session::Session& session, const record::Photo& photo);
fs::path ProxyFile(const session::Session& session, const record::Photo& photo);

// Lights get the names that a person gave to one of their frames.
void NameLights(const session::Standing& standing, std::vector<record::Light>& lights);

// What happened to a file because of `error`, for the session and for an answer.
session::Problem SetAside(session::Stage stage, const std::string& what, const Error& error);
std::vector<Problem> Told(const std::vector<session::Problem>& problems);

// "stopped".
Error Stopped();

// Size and time of a file as the session keeps them.
struct FileState {
  std::uint64_t bytes = 0;
  std::int64_t modified_us = 0;
};
Result<FileState> StateOf(const fs::path& file);

}  // namespace samelight::job
