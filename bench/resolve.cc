#include "bench/resolve.h"

#include <algorithm>
#include <chrono>
#include <mutex>
#include <optional>

#include "base/task_pool.h"
#include "job/said.h"
#include "job/stages.h"
#include "look/evaluate.h"
#include "session/session.h"

namespace samelight::bench {
namespace {

constexpr int kEvery = 3;  // of how many pixels one is evaluated

// The folder above `file` that holds a truth.
fs::path FolderWithTruth(fs::path file) {
  std::error_code ignored;
  for (fs::path at = file.parent_path(); at.has_relative_path(); at = at.parent_path())
    if (fs::exists(at / "truth/truth.json", ignored)) return at;
  return {};
}

PairCount CountPairs(const StoredSession& s) {
  PairCount count;
  for (const record::Pair& pair : s.request.pairs) {
    const auto at = s.scan_at.find(pair.scan);
    if (at == s.scan_at.end()) continue;
    const TrueScan& scan = s.truth.scans[at->second];
    count.moment_true += scan.moment_frames.empty() ? 0 : 1;
    if (pair.kind == record::PairKind::kNone) continue;
    const auto frame = s.frame_at.find(pair.frame);
    if (frame == s.frame_at.end()) continue;
    const TrueFrame& f = s.truth.frames[frame->second];
    const bool moment =
        std::find(scan.moment_frames.begin(), scan.moment_frames.end(), f.file) != scan.moment_frames.end();
    if (moment && pair.kind == record::PairKind::kMoment)
      ++count.moment_found;
    else if (f.light == scan.light)
      ++count.light_right;
    else {
      ++count.wrong;
      count.sure_and_wrong += pair.confidence >= 0.99 ? 1 : 0;
    }
  }
  return count;
}

// What `samelight match` hands to the solve, but followed all the way: the truth is the film.
Result<solve::Request> SolveRequest(const session::Session& session) {
  const Result<session::Standing> standing = job::StandingOf(session);
  if (!standing.ok()) return standing.error();
  Result<solve::Request> request = job::RequestOfSession(session, *standing);
  if (!request.ok()) return request.error();
  request->follow.clear();
  request->follow_all = request->follow_skin = 1;
  request->follow_scan = false;
  Status paired = job::AddPairs(session, *standing, *request);
  if (!paired.ok()) return paired.error();
  return request;
}

}  // namespace

Result<StoredSession> ReadSession(const fs::path& file) {
  Result<std::unique_ptr<session::Session>> opened = session::Session::Open(file, session::Access::kRead);
  if (!opened.ok()) return opened.error();
  const session::Session& session = **opened;
  Result<solve::Request> request = SolveRequest(session);
  if (!request.ok()) return request.error();
  Result<std::vector<session::Delivery>> deliveries = session.Deliveries();
  if (!deliveries.ok()) return deliveries.error();
  Result<session::MatchResult> match = session.Match();
  if (!match.ok()) return match.error();

  for (const record::Photo& photo : request->photos) {
    const fs::path path = session.Absolute(photo.path);
    const Result<job::FileState> now = job::StateOf(path);
    if (!now.ok()) return now.error();
    if (now->bytes != photo.bytes || now->modified_us != photo.modified_us)
      return Error{ErrorCode::kDamaged, "the photograph was changed after the session was matched",
                   path.string(), "match again (--fresh)"};
  }

  StoredSession out;
  out.request = std::move(request).value();
  fs::path folder;
  for (const record::Photo& photo : out.request.photos) {
    folder = FolderWithTruth(fs::weakly_canonical(session.Absolute(photo.path)));
    if (!folder.empty()) break;
  }
  if (folder.empty())
    return Error{ErrorCode::kNotFound, "no truth above the photographs of the session", file.string(),
                 "name a session made from a demo folder"};
  Result<Truth> truth = ReadTruth(folder);
  if (!truth.ok()) return truth.error();
  out.truth = std::move(truth).value();

  std::map<std::string, int> frame_by_file, scan_by_file;
  for (std::size_t i = 0; i < out.truth.frames.size(); ++i)
    frame_by_file[out.truth.frames[i].file] = static_cast<int>(i);
  for (std::size_t i = 0; i < out.truth.scans.size(); ++i)
    scan_by_file[out.truth.scans[i].file] = static_cast<int>(i);
  for (const record::Photo& photo : out.request.photos) {
    const std::string name =
        fs::weakly_canonical(session.Absolute(photo.path)).lexically_relative(folder).generic_string();
    if (const auto it = frame_by_file.find(name); it != frame_by_file.end())
      out.frame_at[photo.id] = it->second;
    if (const auto it = scan_by_file.find(name); it != scan_by_file.end()) out.scan_at[photo.id] = it->second;
  }
  for (const session::Delivery& d : *deliveries)
    if (const auto it = out.frame_at.find(d.frame); d.done && it != out.frame_at.end())
      out.delivered[it->second] = session.Absolute(d.output);
  for (const record::FrameSolution& solution : match->frames)
    if (const auto it = out.frame_at.find(solution.frame); it != out.frame_at.end()) {
      out.correction[it->second] = solution.correction;
      for (const record::Flag& flag : solution.flags) out.flags[it->second].push_back(flag.text);
      out.flags.try_emplace(it->second);
    }
  out.pairs = CountPairs(out);
  return out;
}

Result<std::vector<FrameScore>> ScoreDelivered(const StoredSession& session, const Pictures& pictures) {
  std::vector<FrameScore> scores(pictures.frames.size());
  std::mutex mutex;
  std::optional<Error> problem;
  ParallelFor(scores.size(), {}, [&](std::size_t i) {
    const auto file = session.delivered.find(static_cast<int>(i));
    if (file == session.delivered.end()) return;
    const FramePicture& frame = pictures.frames[i];
    Result<image::RgbF> reduced = ReadReduced(file->second, frame.truth.width(), frame.truth.height());
    if (!reduced.ok()) {
      const std::lock_guard lock(mutex);
      problem = reduced.error();
      return;
    }
    scores[i] = Compare(LabOfLinear(*reduced), frame.truth, frame.skin);
  });
  if (problem) return *problem;
  return scores;
}

std::vector<FrameScore> ScoreCorrections(const std::map<int, record::Correction>& corrections,
                                         const Pictures& pictures) {
  std::vector<FrameScore> scores(pictures.frames.size());
  ParallelFor(scores.size(), {}, [&](std::size_t i) {
    const auto correction = corrections.find(static_cast<int>(i));
    if (correction == corrections.end()) return;
    const look::Resolved resolved = look::Resolve(correction->second);
    const FramePicture& frame = pictures.frames[i];
    const int count = static_cast<int>((frame.linear.pixels() + kEvery - 1) / kEvery);
    image::RgbF shown(count, 1);
    LabF truth(count, 1);
    image::PlaneU8 skin(frame.skin.empty() ? 0 : count, 1);
    for (int k = 0; k < count; ++k) {
      const std::size_t at = static_cast<std::size_t>(k) * kEvery;
      const float* p = frame.linear.data().data() + 3 * at;
      const Vec3 v = look::Evaluate(resolved, {p[0], p[1], p[2]});
      for (int c = 0; c < 3; ++c) shown.at(k, 0)[c] = static_cast<float>(v[c]);
      std::copy_n(frame.truth.data().data() + 3 * at, 3, truth.at(k, 0));
      if (!frame.skin.empty()) *skin.at(k, 0) = frame.skin.data()[at];
    }
    scores[i] = Compare(LabOfLinear(shown), truth, skin);
    scores[i].skin_px *= kEvery;
  });
  return scores;
}

Result<Resolved> Resolve(const StoredSession& session, const solve::Request& request) {
  SilentProgress silent;
  const auto start = std::chrono::steady_clock::now();
  Result<solve::Solution> solution = solve::SolveSession(request, silent, {});
  if (!solution.ok()) return solution.error();
  Resolved out;
  out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  out.notes = std::move(solution->notes);
  int flagged = 0;
  for (const record::FrameSolution& frame : solution->frames) {
    flagged += frame.flags.empty() ? 0 : 1;
    if (const auto it = session.frame_at.find(frame.frame); it != session.frame_at.end())
      out.correction[it->second] = frame.correction;
  }
  out.flagged = solution->frames.empty() ? 0 : static_cast<double>(flagged) / solution->frames.size();
  return out;
}

}  // namespace samelight::bench
