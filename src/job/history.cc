#include "job/history.h"

#include "session/session.h"

namespace samelight::job {

Result<HistoryAnswer> History(const std::filesystem::path& file) {
  Result<std::unique_ptr<session::Session>> session = session::Session::Open(file, session::Access::kRead);
  if (!session.ok()) return session.error();
  Result<std::vector<session::HistoryEntry>> history = (*session)->History();
  if (!history.ok()) return history.error();
  HistoryAnswer answer;
  for (session::HistoryEntry& entry : *history) {
    if (entry.standing)
      answer.undo_next = entry.step;
    else if (!answer.redo_next)
      answer.redo_next = entry.step;
    answer.steps.push_back({entry.step, entry.made_us, std::move(entry.what), entry.standing});
  }
  return answer;
}

}  // namespace samelight::job
