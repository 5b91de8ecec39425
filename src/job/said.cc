#include "job/said.h"

namespace samelight::job {

Result<session::Standing> StandingOf(const session::Session& session) {
  Result<std::vector<session::Word>> words = session.Words();
  if (!words.ok()) return words.error();
  return session::Fold(*words);
}

Status Say(session::Session& session, const std::vector<session::Word>& words, const std::string& what) {
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status said = change->Say(words, what);
  return said.ok() ? change->Commit() : said;
}

std::set<PhotoId> UnderColouredLamps(const session::Standing& standing,
                                     const std::vector<record::Light>& lights) {
  std::set<PhotoId> out;
  for (const record::Light& light : lights)
    if (light.narrow_band)
      for (const PhotoId scan : light.scans)
        if (!standing.let_in.contains(scan)) out.insert(scan);
  return out;
}

std::set<PhotoId> KeptOut(const session::Standing& standing, const std::vector<record::Light>& lights) {
  std::set<PhotoId> out = UnderColouredLamps(standing, lights);
  out.insert(standing.barred.begin(), standing.barred.end());
  return out;
}

}  // namespace samelight::job
