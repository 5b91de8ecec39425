#include <sys/stat.h>

#include <cerrno>

#include "base/file.h"
#include "base/task_pool.h"
#include "job/stages.h"

namespace samelight::job {

fs::path AnalysisFile(const session::Session& session, const record::Photo& photo) {
  return session.cache_folder() / (photo.hash + ".analysis");
}

fs::path ProxyFile(const session::Session& session, const record::Photo& photo) {
  return session.cache_folder() / (photo.hash + ".jpg");
}

session::Problem SetAside(session::Stage stage, const std::string& what, const Error& error) {
  return {stage, what, error};
}

std::vector<Problem> Told(const std::vector<session::Problem>& problems) {
  std::vector<Problem> told;
  told.reserve(problems.size());
  for (const session::Problem& problem : problems)
    told.push_back(report::ProblemFrom(problem.what, problem.error));
  return told;
}

Error Stopped() { return {ErrorCode::kCancelled, "stopped", "", "the same command again goes on from here"}; }

Result<FileState> StateOf(const fs::path& file) {
  struct stat info {};
  if (::stat(file.c_str(), &info) != 0) return ErrorFromErrno(errno, "look at", file);
  return FileState{static_cast<std::uint64_t>(info.st_size),
                   static_cast<std::int64_t>(info.st_mtim.tv_sec) * 1'000'000 + info.st_mtim.tv_nsec / 1000};
}

void UseWorkers(int count) { SetWorkers(count); }

const char* Version() { return SAMELIGHT_VERSION; }

}  // namespace samelight::job
