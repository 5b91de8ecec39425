// Long work at the desk: one job at a time on a thread of its own, beside the scribe.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/modest.h"
#include "job/desk_impl.h"
#include "job/looks.h"
#include "job/said.h"
#include "job/stages.h"
#include "job/window_words.h"
#include "report/words.h"

namespace samelight::job {
namespace {

std::string PairsTold(const PairAnswer& pair) {
  return fmt::format("{} of {} scans found their moment, {} a light, {} none", pair.moment, pair.scans,
                     pair.light, pair.none);
}
// (How many are settled stands in the window all the time.)
std::string MatchTold(const MatchAnswer& match) {
  return fmt::format("the corrections of {} are solved", report::Count(match.frames, "frame"));
}

// Looks of earlier sessions that this one might begin from; empty: none.
std::string Offer(const session::Session& session) {
  const Result<session::Standing> standing = StandingOf(session);
  const Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!standing.ok() || !rolls.ok()) return {};
  const std::vector<std::string> names = OfferedLooks(*standing, *rolls, {});
  return names.empty() ? std::string()
                       : fmt::format("earlier sessions taught {} to begin from", fmt::join(names, ", "));
}

// Everything is measured, paired and solved; told only as far as something was done.
Status Update(session::Session& session, const Work& work, JobEnded& ended) {
  Result<Prepared> prepared = Prepare(session, 0, false, work);
  if (!prepared.ok()) return prepared.error();
  if (prepared->pair.computed) ended.told.push_back(PairsTold(prepared->pair));
  if (prepared->match.computed) {
    ended.told.push_back(MatchTold(prepared->match));
    ended.told.push_back(Offer(session));
  }
  std::erase(ended.told, "");
  return {};
}

}  // namespace

bool Desk::Impl::Start(const std::string& what, Task task) {
  if (progress != nullptr) return false;
  if (worker) worker->join(), worker.reset();
  Result<std::unique_ptr<session::Session>> beside = scribe->session().Beside();
  if (!beside.ok()) {
    events.emplace_back(JobEnded{what, beside.error()});
    if (wake) wake();
    return true;
  }
  cancel = Cancel();
  job_what = what;
  progress = std::make_shared<JobProgress>([this] { Tell([this] { events.emplace_back(JobMoved{}); }); });
  worker.emplace([this, what, task = std::move(task),
                  session = std::shared_ptr<session::Session>(std::move(*beside)), job_progress = progress,
                  cancel = cancel] {
    BeModest();      // the window comes first
    scribe->Wait();  // what was said before is heard
    JobEnded ended{what};
    ended.status = task(*session, {*job_progress, cancel}, ended);
    Result<std::shared_ptr<const Book>> read = ReadBook(*session);
    if (ended.status.ok() && !read.ok()) ended.status = read.error();
    ended.status = StatusForWindow(ended.status);
    Tell([this, ended = std::move(ended), read = read.ok() ? *read : nullptr]() mutable {
      this->progress.reset();
      if (read != nullptr) {
        ended.problems = read->problems;
        base = read;
      }
      events.emplace_back(std::move(ended));
      ReadAgain();  // with what was said while the job ran
      ReadMatches();
    });
  });
  return true;
}

bool Desk::StartAdd(const std::vector<std::filesystem::path>& film,
                    const std::vector<std::filesystem::path>& digital) {
  return impl_->Start(
      "Adding photographs", [film, digital](session::Session& session, const Work& work, JobEnded& ended) {
        Result<StockAnswer> stock = TakeStock(session, film, digital, {}, work);
        if (!stock.ok()) return Status(stock.error());
        ended.told.push_back(
            fmt::format("{} added; the session has {} and {}", report::Count(stock->added, "photograph"),
                        report::Count(stock->scans, "scan"), report::Count(stock->frames, "frame")));
        if (stock->frames == 0) return Status();  // scans alone wait for their frames
        return Update(session, work, ended);
      });
}

bool Desk::StartUpdate() { return impl_->Start("Bringing pairs and corrections up to date", Update); }

bool Desk::StartDeliver(const std::filesystem::path& out, const DeliverOptions& options) {
  return impl_->Start(
      "Delivering", [out, options](session::Session& session, const Work& work, JobEnded& ended) {
        Result<std::vector<record::Order>> orders = OrdersOf(session, options);
        if (!orders.ok()) return Status(orders.error());
        Status updated = Update(session, work, ended);
        if (!updated.ok()) return updated;
        Result<DeliverAnswer> answer = DeliverOrders(session, out, *orders, options, work);
        if (!answer.ok()) return Status(answer.error());
        ended.made = out;
        ended.told.push_back(
            fmt::format("{} written, {} kept", report::Count(answer->written, "file"), answer->kept));
        ended.told.insert(ended.told.end(), answer->notes.begin(), answer->notes.end());
        return WriteReports(session, out, work);
      });
}

bool Desk::StartApprove(const std::string& order) {
  return impl_->Start("Approving", [order](session::Session& session, const Work&, JobEnded& ended) {
    Result<int> count = SayApproved(session, order);
    if (!count.ok()) return Status(count.error());
    ended.told.push_back(fmt::format("{} of the order {} approved", report::Count(*count, "picture"), order));
    return Status();
  });
}

bool Desk::StartKeepLook(const LookLearnRequest& wanted) {
  LookLearnRequest request = wanted;
  request.sessions = {impl_->book->file};
  return impl_->Start("Keeping the look", [request](session::Session&, const Work& work, JobEnded& ended) {
    Result<LookAnswer> answer = LearnLooks(request, work);
    if (!answer.ok()) return Status(answer.error());
    for (const record::LearnedLook& look : answer->looks)
      ended.told.push_back(fmt::format("the look {} is kept; it has learned from {}", look.name,
                                       report::Count(static_cast<int>(look.lessons.size()), "session")));
    ended.told.insert(ended.told.end(), answer->notes.begin(), answer->notes.end());
    return Status();
  });
}

bool Desk::StartExportLook(const LookExportRequest& request) {
  return impl_->Start(
      "Writing the look out", [request](session::Session&, const Work& work, JobEnded& ended) {
        Result<LookExportAnswer> answer = ExportLook(request, work);
        if (!answer.ok()) return Status(answer.error());
        ended.made = answer->file;
        ended.told.push_back(
            fmt::format("{}: {}, {} nodes along each axis, within {:.2f} (mean {:.2f}) CIEDE2000 of the look",
                        answer->file.string(), answer->kind, answer->nodes, answer->most, answer->mean));
        return Status();
      });
}

bool Desk::StartProofSheet(const std::filesystem::path& folder) {
  return impl_->Start("Making the proof sheet",
                      [folder](session::Session& session, const Work& work, JobEnded& ended) {
                        std::error_code ec;
                        std::filesystem::create_directories(folder, ec);
                        const std::filesystem::path file = folder / "proof sheet.html";
                        Status written = WriteProofs(session, file, work);
                        if (written.ok()) ended.made = file;
                        return written;
                      });
}

void Desk::CancelJob() { impl_->cancel.Request(); }

std::optional<Running> Desk::job() const {
  if (impl_->progress == nullptr) return std::nullopt;
  const JobProgress::State state = impl_->progress->Now();
  return Running{impl_->job_what, state.stage, state.done, state.total, state.seconds_left};
}

}  // namespace samelight::job
