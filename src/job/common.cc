#include <sys/stat.h>

#include <cerrno>
#include <cstdlib>

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

std::vector<record::Roll> StandingRolls(std::vector<record::Roll> rolls, const session::Standing& standing,
                                        const std::unordered_map<PhotoId, record::Measured>& measured) {
  for (record::Roll& roll : rolls) {
    long grey = 0, known = 0;
    for (const PhotoId scan : roll.scans) {
      const auto it = measured.find(scan);
      if (it == measured.end()) continue;
      ++known;
      grey += it->second.black_and_white ? 1 : 0;
    }
    if (known > 0) roll.black_and_white = 2 * grey > known;
    const auto said = [&](const char* key) -> const std::string* {
      const auto it = standing.roll_facts.find({roll.id, key});
      return it == standing.roll_facts.end() ? nullptr : &it->second;
    };
    if (const std::string* text = said("name")) roll.name = *text;
    if (const std::string* text = said("stock")) roll.stock = *text;
    if (const std::string* text = said("lab")) roll.lab = *text;
    if (const std::string* text = said("black-and-white")) roll.black_and_white = *text == "yes";
    if (const std::string* text = said("push")) roll.push_ev = std::strtod(text->c_str(), nullptr);
  }
  return rolls;
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
