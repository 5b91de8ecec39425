// The entries that work through stages: pair, match, deliver, run.
#include <chrono>
#include <cmath>

#include <fmt/format.h>

#include "base/setting.h"
#include "job/looks.h"
#include "job/said.h"
#include "job/stages.h"
#include "job/words.h"

namespace samelight::job {
namespace {

// Adds the seconds since the last call to `seconds[name]`.
class Stopwatch {
 public:
  explicit Stopwatch(std::map<std::string, double>& seconds) : seconds_(&seconds) {}
  void Lap(const std::string& name) {
    const auto now = std::chrono::steady_clock::now();
    (*seconds_)[name] += std::chrono::duration<double>(now - last_).count();
    last_ = now;
  }

 private:
  std::map<std::string, double>* seconds_;
  std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

Result<std::vector<Problem>> AllProblems(const session::Session& session) {
  Result<std::vector<session::Problem>> problems = session.Problems();
  if (!problems.ok()) return problems.error();
  return Told(*problems);
}

// Tells of looks that the session might have begun from.
Status Offer(const session::Session& session, const std::optional<LookWish>& wish, MatchAnswer& answer) {
  const Result<session::Standing> folded = StandingOf(session);
  if (!folded.ok()) return folded.error();
  const session::Standing& standing = *folded;
  Result<solve::Request> request = RequestOfSession(session, standing);
  if (!request.ok()) return request.error();
  std::string offer = OfferOf(standing, request->rolls, wish ? wish->folder : fs::path());
  if (!offer.empty()) answer.notes.push_back(std::move(offer));
  return {};
}

}  // namespace

Result<Prepared> Prepare(session::Session& session, std::uint64_t memory_mib, bool again, const Work& work) {
  Prepared prepared;
  Stopwatch watch(prepared.seconds);
  Result<MeasureAnswer> measured = MeasureAll(session, memory_mib, work);
  if (!measured.ok()) return measured.error();
  watch.Lap("measure");
  Result<PairAnswer> pair = PairAll(session, *measured, again, work);
  if (!pair.ok()) return pair.error();
  prepared.pair = std::move(pair).value();
  watch.Lap("pair");
  Result<MatchAnswer> match = MatchAll(session, again, work);
  if (!match.ok()) return match.error();
  prepared.match = std::move(match).value();
  watch.Lap("match");
  return prepared;
}

Result<PairAnswer> Pair(const PairRequest& request, const Work& work) {
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, session::Access::kWrite);
  if (!session.ok()) return session.error();
  Status said = SayPairWords(**session, request);
  if (!said.ok()) return said.error();
  Result<MeasureAnswer> measured = MeasureAll(**session, 0, work);
  if (!measured.ok()) return measured.error();
  Result<PairAnswer> answer = PairAll(**session, *measured, request.again, work);
  if (!answer.ok()) return answer.error();
  Result<std::vector<Problem>> problems = AllProblems(**session);
  if (!problems.ok()) return problems.error();
  answer->problems = std::move(problems).value();
  return answer;
}

Result<MatchAnswer> Match(const MatchRequest& request, const Work& work) {
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, session::Access::kWrite);
  if (!session.ok()) return session.error();
  Status said = SayMatchWords(**session, request);
  if (!said.ok()) return said.error();
  Result<MeasureAnswer> measured = MeasureAll(**session, 0, work);
  if (!measured.ok()) return measured.error();
  Result<PairAnswer> pair = PairAll(**session, *measured, false, work);
  if (!pair.ok()) return pair.error();
  Result<MatchAnswer> answer = MatchAll(**session, request.again, work);
  if (!answer.ok()) return answer.error();
  Status offered = Offer(**session, request.look, *answer);
  if (!offered.ok()) return offered.error();
  Result<std::vector<Problem>> problems = AllProblems(**session);
  if (!problems.ok()) return problems.error();
  answer->problems = std::move(problems).value();
  return answer;
}

Result<DeliverAnswer> Deliver(const DeliverRequest& request, const Work& work) {
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, session::Access::kWrite);
  if (!session.ok()) return session.error();
  Result<std::vector<record::Order>> orders = OrdersOf(**session, request.options);
  if (!orders.ok()) return orders.error();
  Result<Prepared> prepared = Prepare(**session, request.options.memory_mib, false, work);
  if (!prepared.ok()) return prepared.error();
  Result<DeliverAnswer> answer = DeliverOrders(**session, request.out, *orders, request.options, work);
  if (!answer.ok()) return answer.error();
  Status reports = WriteReports(**session, request.out, work);
  if (!reports.ok() && reports.error().code == ErrorCode::kCancelled) return reports.error();
  Result<std::vector<Problem>> problems = AllProblems(**session);
  if (!problems.ok()) return problems.error();
  answer->problems = std::move(problems).value();
  // A report that cannot be written does not hide what was delivered.
  if (!reports.ok()) answer->problems.push_back(report::ProblemFrom("not written", reports.error()));
  return answer;
}

Result<RunAnswer> Run(const RunRequest& request, const Work& work) {
  if (request.digital.empty())
    return Error{ErrorCode::kInvalidArgument, "no digital frames were named", "",
                 "name their folder with --digital"};
  for (const std::vector<fs::path>* roots : {&request.film, &request.digital})
    for (const fs::path& root : *roots) {
      std::error_code ec;
      if (!fs::exists(root, ec))  // before the output folder is made
        return Error{ErrorCode::kNotFound, "there is no such folder or file", root.string(),
                     "check the name, and that the card or disk is connected"};
    }
  std::error_code ec;
  fs::create_directories(request.out, ec);
  if (ec || !fs::is_directory(request.out, ec))
    return Error{ErrorCode::kPermission, "the output folder could not be made", request.out.string(),
                 "check the name and the rights, and that the disk is not full"};
  RunAnswer answer;
  answer.session = request.out / "session.samelight";
  answer.report_json = request.out / "report.json";
  answer.report_html = request.out / "report.html";
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(answer.session, session::Access::kCreate);
  if (!session.ok()) return session.error();
  Result<std::vector<record::Order>> orders = OrdersOf(**session, request.options);
  if (!orders.ok()) return orders.error();
  Stopwatch watch(answer.seconds);
  Result<StockAnswer> stock = TakeStock(**session, request.film, request.digital, {request.out}, work);
  if (!stock.ok()) return stock.error();
  answer.stock = std::move(stock).value();
  watch.Lap("stock");
  if (answer.stock.frames == 0)
    return Error{ErrorCode::kNothingToDo, "there is no digital frame that can be read in these folders", "",
                 answer.stock.problems.empty()
                     ? "check the folders; raw, JPEG, TIFF and PNG files are read"
                     : answer.stock.problems.front().file + ": " + answer.stock.problems.front().why};
  MatchRequest wishes;
  wishes.follow_percent = request.follow_percent;
  wishes.settings = request.settings;
  wishes.look = request.look;
  Status said = SayMatchWords(**session, wishes);
  if (!said.ok()) return said.error();
  Result<Prepared> prepared = Prepare(**session, request.options.memory_mib, request.options.again, work);
  if (!prepared.ok()) return prepared.error();
  answer.pair = std::move(prepared->pair);
  answer.match = std::move(prepared->match);
  Status offered = Offer(**session, request.look, answer.match);
  if (!offered.ok()) return offered.error();
  answer.seconds.insert(prepared->seconds.begin(), prepared->seconds.end());
  watch = Stopwatch(answer.seconds);
  Result<DeliverAnswer> deliver = DeliverOrders(**session, request.out, *orders, request.options, work);
  if (!deliver.ok()) return deliver.error();
  answer.deliver = std::move(deliver).value();
  watch.Lap("deliver");
  Status reports = WriteReports(**session, request.out, work);
  if (!reports.ok() && reports.error().code == ErrorCode::kCancelled) return reports.error();
  watch.Lap("report");
  Result<std::vector<Problem>> problems = AllProblems(**session);
  if (!problems.ok()) return problems.error();
  answer.problems = std::move(problems).value();
  if (!reports.ok()) answer.problems.push_back(report::ProblemFrom("not written", reports.error()));
  return answer;
}

}  // namespace samelight::job
