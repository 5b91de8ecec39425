// How near delivered frames come to the truth of an invented session.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"
#include "image/raster.h"

namespace samelight::simulate {

// Differences over a group of frames: CIEDE2000 averaged over each picture at 400 px, then the median, and
// the largest tenth's edge, over frames.
struct GroupScore {
  std::string name;  // "all", "lights with film", "lights without film", "camera jpeg", "skin"
  int frames = 0;
  double delivered = 0;      // median
  double delivered_p90 = 0;  // 90th percentile
  double before = 0;         // median, the frame as the camera made it
};

struct WrongPair {
  std::string scan, frame;
  double confidence = 0;
};

struct Score {
  std::vector<GroupScore> groups;  // groups without frames are left out
  double evenness = 0;  // RMS over frames of (mean difference in L*, a*, b* minus its mean within the light)
  double evenness_before = 0;
  int moment_scans = 0;              // scans that have frames of the same moment
  int found = 0;                     // of these, paired with one of them
  int nearby = 0;                    // paired as moment with another moment of the same light
  std::vector<WrongPair> wrong;      // paired with a frame of another light, or where there is none
  std::vector<std::string> missing;  // frames that were not delivered or can not be read
};

// Reads session_dir/truth/truth.json, out_dir/report.json (docs/report.md) and the delivered files it names.
// Frames that the report does not name, or that were not delivered, are in `missing`. Thread safe.
Result<Score> ScoreRun(const std::filesystem::path& session_dir, const std::filesystem::path& out_dir,
                       const Cancel& cancel = {});

// Plain table for a person, and the same as JSON (one object).
std::string TextOf(const Score& score);
std::string JsonOf(const Score& score);

// The frame as the camera made it, display-linear sRGB, long side at most `long_side_px`: raw through
// its as-shot white and matrix, the exposure as shot, sRGB curve, clipped at 1; JPEG as it is.
Result<image::RgbF> AsTheCameraMadeIt(const std::filesystem::path& file, int long_side_px);
// Any display-referred picture as display-linear sRGB, clipped to 0..1.
Result<image::RgbF> ReadDisplay(const std::filesystem::path& file, int long_side_px);

}  // namespace samelight::simulate
