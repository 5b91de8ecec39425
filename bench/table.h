// The table: rows of methods, columns of groups of frames, for people and as JSON.
#pragma once

#include <string>
#include <vector>

#include "bench/resolve.h"
#include "bench/score.h"

namespace samelight::bench {

// Rows in which the truth tells what the program had to find out.
inline const char* const kLightFromTruth = "  its light offsets from truth";
inline const char* const kFrameFromTruth = "  its frame offsets from truth";

struct Row {
  enum class Kind { kUntouched, kBaseline, kReference, kOurs, kDesign, kHarmed };
  std::string name;
  Kind kind = Kind::kOurs;
  RowScore score;
  std::vector<FrameScore> frames;  // by frame; empty: not kept
  double flagged = kNone;          // share of frames with a reason to look
};

struct SessionTable {
  std::string name;
  std::vector<FrameFact> facts;
  std::vector<std::string> told;  // by frame: why the program wants it looked at; empty: it does not
  std::vector<Row> rows;
  double nudge_median = kNone;     // CIEDE2000 between scans and their un-nudged selves; median over scans
  double nudge_simulator = kNone;  // the same before grain, as the simulator tells it
  PairCount pairs;
  bool has_pairs = false;
  bool skin_labelled = false;
  double solve_seconds = kNone;
  std::vector<std::string> notes;
};

// For a terminal. Each session by itself when there is one or `each`; then the medians over sessions.
// `worst`: how many of the frames with the largest error of the last row of ours are listed.
std::string TextOf(const std::vector<SessionTable>& sessions, bool each, int worst);
// The same numbers and those of every frame; absent numbers are null.
std::string JsonOf(const std::vector<SessionTable>& sessions);

}  // namespace samelight::bench
