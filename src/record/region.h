// Parts of a picture that are compared with their like.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "base/matrix.h"

namespace samelight::record {

// The value is what a region label plane holds (8 bit).
enum class RegionKind : std::uint8_t {
  kOther = 0,
  kSkin = 1,        // face skin and skin connected to it; the face's number is kept beside it
  kFoliage = 2,
  kSky = 3,
  kWhiteCloth = 4,  // white to ivory cloth, clipped cloth excluded
  kDarkCloth = 5,
  kNeutral = 6,     // other grey surfaces
  kShadow = 7,
  kHighlight = 8,
  kMasked = 255,    // scan border, rebate, dust, clipped: never evidence
};
inline constexpr std::array<RegionKind, 8> kAllRegions = {
    RegionKind::kSkin,     RegionKind::kFoliage, RegionKind::kSky,    RegionKind::kWhiteCloth,
    RegionKind::kDarkCloth, RegionKind::kNeutral, RegionKind::kShadow, RegionKind::kHighlight};
// "skin", "foliage", "sky", "white cloth", "dark cloth", "neutrals", "shadows", "highlights".
const char* Name(RegionKind kind);

// How a part of a face is lit; kWhole: all of it, or not told apart.
enum class Side { kWhole, kLit, kShaded };
const char* Name(Side side);           // "", "lit side", "shaded side"

// A face found in a picture: box in fractions of the upright picture (0..1), score of the detector (0..1).
struct Face {
  double left = 0, top = 0, right = 0, bottom = 0;
  double score = 0;
};

// Colour statistics of one region in one picture, linear BT.2020, D65, in the picture's own reference.
struct RegionStat {
  RegionKind kind = RegionKind::kOther;
  int face = -1;                       // index into the picture's faces, or -1 for a kind as a whole
  double area = 0;                     // fraction of the picture
  // Per-channel quantiles at 5, 25, 50, 75, 95 % (index 2 is the median).
  std::array<Vec3, 5> quantiles{};
  Vec3 mean{};                         // mean, linear
};

// What light a picture says it was taken in, from its own pixels.
struct LightEstimate {
  Vec3 neutral{1, 1, 1};               // linear BT.2020 colour of the illuminant in the picture, green = 1
  double mired = 0;                    // of `neutral` (for raw: of the camera's as-shot white combined with it)
  double duv = 0;
  double log2_level = 0;               // log2 of the median luminance, mid-grey 0.18 is -2.47
  double confidence = 0;               // 0..1
};

// Everything small that is measured on one photograph.
struct Measured {
  std::vector<Face> faces;
  std::vector<RegionStat> regions;
  LightEstimate light;
  double sharpness = 0;                // noise-normalised edge energy, comparable within a burst only
  double clipped_high = 0;             // fraction of pixels at the upper end
  double clipped_low = 0;
  bool black_and_white = false;
  // Part of the picture that holds image, in fractions (scan borders and rebate outside).
  double inner_left = 0, inner_top = 0, inner_right = 1, inner_bottom = 1;
  double grain = 0;                    // RMS of log10 luminance in flat mid-tone patches at the analysis size
  std::string note;                    // a fault seen on the way, in plain words; empty if none
};

}  // namespace samelight::record
