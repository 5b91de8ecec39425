// The simulator's truth about a session, read from its truth.json.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"

namespace samelight::bench {

namespace fs = std::filesystem;

struct TrueLight {
  std::string name, stock;
  bool filmed = false, digital = false;
};

struct TrueFrame {
  std::string file;  // relative to the session's folder
  fs::path truth;    // the frame as film would have seen it
  fs::path skin;     // white where there is skin, same size as `truth`; empty: not labelled
  int light = -1, moment = -1;
  bool jpeg = false;
};

struct TrueScan {
  std::string file;
  fs::path truth;  // the scan without nudge and grain
  int light = -1, moment = -1;
  bool mirrored = false;  // shows the moment, but no pixel fits
  double nudge_de = 0;    // as the simulator measured it, before grain
  std::vector<std::string> moment_frames, light_frames;
};

struct Truth {
  fs::path folder;
  std::uint64_t seed = 0;
  std::vector<TrueLight> lights;  // in the order of the day; those that only film saw come last
  std::vector<TrueFrame> frames;
  std::vector<TrueScan> scans;

  // Whether a scan of this light is there.
  bool Filmed(int light) const;
};

// Reads `folder`/truth/truth.json. kNotFound, kDamaged.
Result<Truth> ReadTruth(const fs::path& folder);

// The scan that the baselines are given for a frame: of the same moment; else of the same light, nearest in
// moments; else of the light nearest in the order of the day. `usable` leaves out black-and-white scans; one
// entry per scan. -1: there is none.
int GivenScan(const Truth& truth, const std::vector<bool>& usable, int frame);

}  // namespace samelight::bench
