// The places of a frame by region, kept so that their colour under another correction is quickly told.
#pragma once

#include <vector>

#include "look/evaluate.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"
#include "record/region.h"

namespace samelight::solve {

struct RegionSamples {
  record::RegionKind kind = record::RegionKind::kOther;
  int face = -1;
  std::vector<Vec3> frame;  // pixels of the frame as decoded, linear BT.2020; at least one
  bool has_scan = false;
  // CIELAB (D65) medians: scan (if any), and the frame as the camera made it.
  Vec3 lab_scan{}, lab_before{};
  record::Side side = record::Side::kWhole;  // of a face
};

// How the camera itself would show a raw frame: the neutral rendering at as-shot white with the frame's
// median luminance (2^log2_level) brought to mid-grey. A JPEG is shown as it is.
record::Correction CameraRendering(const record::Photo& frame, double log2_level);

// From matched places of scan and frame. Regions with fewer than 12 places are left out, as is what belongs
// to none. A kind with several faces gets one entry per face.
std::vector<RegionSamples> SamplesOf(const record::Correspondence& matched, const record::Photo& frame,
                                     double log2_level);
// The lit and the shaded side of every face whose sides differ (face_sides.h), from the same places.
std::vector<RegionSamples> FaceSidesOf(const record::Correspondence& matched, const record::Photo& frame,
                                       double log2_level);
// From what was measured on the frame alone: one sample, the median, per region. Faces by themselves where
// there are any.
std::vector<RegionSamples> SamplesOf(const record::Measured& measured, const record::Photo& frame);

// CIELAB (D65) median of the region under a correction. `most`: at most so many samples, evenly taken; 0:
// all.
Vec3 LabUnder(const RegionSamples& region, const look::Resolved& resolved, std::size_t most = 0);

}  // namespace samelight::solve
