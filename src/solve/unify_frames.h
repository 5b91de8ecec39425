// The frames of a session on their way to one digital reference, shared by the steps of UnifyFrames.
#pragma once

#include <optional>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "look/tone.h"
#include "record/pair.h"
#include "solve/unify.h"

namespace samelight::solve {

// log10, smoothly above the least exposure.
double LogPositive(double v);

struct UnifyFrame {
  const record::Photo* photo = nullptr;
  LightId light;
  std::string source;
  bool display = false;
  double place = 0;          // in its light in time: -1 first, 1 last
  Mat3 matrix = kIdentity3;  // white of the light, then source relation
  look::ToneCurve tone;
  std::vector<double> tone_in, tone_out;
  Vec3 gain_log10{0, 0, 0};
  double exposure_log10 = 0;
  bool tied = false;     // places in it were matched to another frame
  bool related = false;  // its source was fitted on places matched to the reference
  OwnDoubt doubt;

  // A pixel as decoded, linear BT.2020, as far as the frame is unified by now.
  Vec3 Apply(const float rgb[3]) const;
};

struct FrameSet {
  explicit FrameSet(const Request& session);  // which must outlive it

  const Request& request;
  std::vector<UnifyFrame> frames;
  std::unordered_map<PhotoId, int> index;  // into frames
  std::string reference;                   // the source that the others are brought to
  std::vector<std::string> notes;
};

// The lights of the frames, numbered from 0.
std::vector<int> LightNumbers(const FrameSet& set);
// Cells of one match, few enough for one edge of a graph.
std::vector<record::Cell> Thinned(const record::Correspondence& matched);
// Median, and 1.4826 times the median absolute deviation. Reorders `v`.
std::pair<double, double> MedianAndSpread(std::vector<double>& v);
// log10 of light reaching a pixel by shutter, aperture and sensitivity; empty where one is not written.
std::optional<double> ExifExposure(const record::Capture& capture);

inline constexpr double kEdgeFloor = 0.015;  // log10; best agreement of one edge

}  // namespace samelight::solve
