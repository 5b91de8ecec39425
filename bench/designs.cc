#include "bench/designs.h"

#include <cstdlib>
#include <limits>

#include "bench/perturb.h"

namespace samelight::bench {

Result<Resolved> PerPair(const StoredSession& session, const solve::Request& request) {
  struct Fitted {
    int frame = 0, light = 0;  // of its pair
    std::map<int, record::Correction> correction;
  };
  std::vector<Fitted> scans;
  Resolved out;
  for (const record::Pair& pair : request.pairs) {
    const auto frame = session.frame_at.find(pair.frame);
    if (pair.kind == record::PairKind::kNone || frame == session.frame_at.end()) continue;
    Result<Resolved> alone = Resolve(session, KeepScans(request, {pair.scan}));
    if (!alone.ok()) return alone.error();
    out.seconds += alone->seconds;
    scans.push_back({frame->second, session.truth.frames[frame->second].light, std::move(alone->correction)});
  }
  for (const auto& [id, frame] : session.frame_at) {
    const Fitted* best = nullptr;
    int least = std::numeric_limits<int>::max();
    for (const Fitted& s : scans) {
      // Another light is farther than any frame of the same.
      const int other = s.light == session.truth.frames[frame].light ? 0 : 1 << 20;
      const int apart = std::abs(s.frame - frame) + other;
      if (apart < least) {
        least = apart;
        best = &s;
      }
    }
    if (best != nullptr && best->correction.contains(frame))
      out.correction[frame] = best->correction.at(frame);
  }
  return out;
}

solve::Request WithoutGraph(solve::Request request) {
  request.frame_to_frame.clear();
  return request;
}

}  // namespace samelight::bench
