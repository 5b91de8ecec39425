// A session of the program beside its truth: what it delivered, and its solve once more.
#pragma once

#include <map>
#include <string>
#include <unordered_map>
#include <vector>

#include "bench/score.h"
#include "solve/solve.h"

namespace samelight::bench {

// How the pairs stand against the truth.
struct PairCount {
  int moment_true = 0;     // scans with a frame of the same moment
  int moment_found = 0;    // of these: paired with one, as the same moment
  int light_right = 0;     // paired with another frame of the right light
  int wrong = 0;           // paired with a frame of a wrong light, or with any although there is none
  int sure_and_wrong = 0;  // of these: with a confidence of 0.99 or more
};

struct StoredSession {
  Truth truth;
  solve::Request request;                              // as `samelight match` would make it
  std::unordered_map<PhotoId, int> frame_at, scan_at;  // index into truth.frames, truth.scans
  std::map<int, fs::path> delivered;                   // by index into truth.frames
  std::map<int, record::Correction> correction;        // as the session holds it
  std::map<int, std::vector<std::string>> flags;
  PairCount pairs;
};

// `file`: OUT/session.samelight. The truth is looked for in the folders above the session's photographs.
Result<StoredSession> ReadSession(const fs::path& file);

// Delivered pictures against the truth; frames without a file have `there` false.
Result<std::vector<FrameScore>> ScoreDelivered(const StoredSession& session, const Pictures& pictures);

// Corrections against the truth: look::Evaluate on every third pixel of the reduced pictures. Without the
// noise of the full-size file this comes within about 0.05 of ScoreDelivered; the full table prints both.
std::vector<FrameScore> ScoreCorrections(const std::map<int, record::Correction>& corrections,
                                         const Pictures& pictures);

struct Resolved {
  std::map<int, record::Correction> correction;  // by index into truth.frames
  double flagged = 0;                            // share of frames with a reason to look
  double seconds = 0;
  std::vector<std::string> notes;
};
Result<Resolved> Resolve(const StoredSession& session, const solve::Request& request);

}  // namespace samelight::bench
