#include "bench/repeat_session.h"

#include <string>
#include <unordered_map>
#include <utility>

#include "session/session.h"

namespace samelight::bench {

namespace fs = std::filesystem;

bool RepeatSession(const fs::path& from, const fs::path& to, int frames) {
  std::error_code ec;
  for (const char* tail : {"", "-wal", "-shm"}) fs::remove(to.string() + tail, ec);
  fs::copy_file(from, to, fs::copy_options::overwrite_existing, ec);
  if (ec) return false;
  const fs::path cache = fs::path(to).replace_extension(".cache");
  if (!fs::exists(cache)) fs::create_directory_symlink(fs::path(from).replace_extension(".cache"), cache, ec);
  auto session = session::Session::Open(to, session::Access::kWrite);
  if (!session.ok()) return false;
  auto photos = (*session)->Photos();
  auto measured = (*session)->Measured();
  auto pairs = (*session)->Pairs();
  auto match = (*session)->Match();
  auto change = (*session)->Begin();
  if (!photos.ok() || !measured.ok() || !pairs.ok() || !match.ok() || !change.ok()) return false;
  int count = 0;
  for (const record::Photo& photo : *photos) count += photo.role == record::Role::kFrame;
  if (count == 0) return false;
  session::PairResult all = *pairs;
  session::MatchResult solved = *match;
  all.scan_to_frame.clear();
  all.frame_to_frame.clear();
  for (int copy = 1; copy * count < frames; ++copy) {
    std::unordered_map<PhotoId, PhotoId> twin;
    for (record::Photo photo : *photos) {
      const PhotoId old = photo.id;
      photo.id = {};
      // Another name for the same file.
      for (int i = 0; i < copy; ++i) photo.path.insert(0, "./");
      if (photo.capture.time_us) *photo.capture.time_us += copy * 3'600'000'000LL;
      if (photo.role == record::Role::kScan) photo.roll_position += copy * 100;
      if (!change->Put(photo).ok()) return false;
      twin[old] = photo.id;
      const auto facts = measured->find(old);
      if (facts != measured->end() && !change->PutMeasured(photo.id, facts->second).ok()) return false;
    }
    for (record::Light light : pairs->lights) {
      if (light.id == pairs->lights.front().id) {
        for (const PhotoId id : light.frames) all.lights.front().frames.push_back(twin[id]);
        for (const PhotoId id : light.scans) all.lights.front().scans.push_back(twin[id]);
        continue;
      }
      light.id.value += 1000 * copy;
      light.name += " " + std::to_string(copy + 1);
      for (PhotoId& id : light.frames) id = twin[id];
      for (PhotoId& id : light.scans) id = twin[id];
      all.lights.push_back(light);
    }
    for (record::Pair pair : pairs->pairs) {
      pair.scan = twin[pair.scan];
      if (pair.frame.valid()) pair.frame = twin[pair.frame];
      for (record::PairCandidate& other : pair.alternatives) other.frame = twin[other.frame];
      all.pairs.push_back(pair);
    }
    for (record::FrameSolution solution : match->frames) {
      solution.frame = twin[solution.frame];
      solution.correction.frame = solution.frame;
      if (solution.light != pairs->lights.front().id) solution.light.value += 1000 * copy;
      if (solution.scan.valid()) solution.scan = twin[solution.scan];
      solved.frames.push_back(solution);
    }
  }
  return change->ReplacePairs(all).ok() && change->ReplaceMatch(solved).ok() && change->Commit().ok();
}

}  // namespace samelight::bench
