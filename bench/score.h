// From two pictures to numbers, and from the numbers of a session to a row of the table.
#pragma once

#include <array>
#include <limits>
#include <string>
#include <vector>

#include "bench/pictures.h"

namespace samelight::bench {

inline constexpr double kNone = std::numeric_limits<double>::quiet_NaN();  // nothing to tell

// A frame against its truth.
struct FrameScore {
  bool there = false;  // false: there is no picture
  double mean = 0;     // CIEDE2000, mean over pixels
  double p95 = 0;      // 95th percentile over pixels
  Vec3 bias{};         // mean of CIELAB minus truth
  int skin_px = 0;
  double skin = kNone;  // mean CIEDE2000 over skin
  Vec3 skin_bias{};
};
// `skin` may be empty. Pictures of the same size.
FrameScore Compare(const LabF& shown, const LabF& truth, const image::PlaneU8& skin);

// Which rows of the table's columns a frame belongs to.
enum class Group { kFilm, kNoFilm, kJpegFilm, kJpegNoFilm };
inline constexpr std::array<Group, 4> kGroups = {Group::kFilm, Group::kNoFilm, Group::kJpegFilm,
                                                 Group::kJpegNoFilm};
const char* Name(Group group);  // "raw, light with film", ...

struct FrameFact {
  std::string name;
  int light = -1;
  Group group = Group::kFilm;
};

// Numbers of one group of frames. kNone where there is nothing to tell.
struct GroupScore {
  int frames = 0;
  double mean = kNone, p95 = kNone, skin = kNone;  // medians over frames
  // Spread inside a light of the frames' mean CIELAB error: root of the summed variances of L*, a*, b* over
  // the light's frames of this group; median over lights with two frames or more.
  double spread = kNone;
  double spread_of_mean = kNone;          // the same of the frames' mean CIEDE2000 alone
  double skin_a = kNone, skin_b = kNone;  // the same of the skin's mean error in a*, b*
};

struct Worse {
  std::string name;
  double excess = 0;  // mean CIEDE2000 above the untouched frame's
};

struct RowScore {
  std::array<GroupScore, 4> group;  // by Group
  GroupScore all;
  double worse_share = kNone;   // of frames, against untouched
  double worst_excess = kNone;  // 0 when none is worse
  std::vector<Worse> worse;     // worst first
  int missing = 0;
};

// `untouched`: what the frames are compared against; empty: not compared.
RowScore Summarise(const std::vector<FrameScore>& scores, const std::vector<FrameFact>& facts,
                   const std::vector<FrameScore>& untouched);

// Median by value; NaN entries are left out; kNone of nothing.
double Median(std::vector<double> values);

}  // namespace samelight::bench
