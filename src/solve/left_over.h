// The difference that remains between a scan and its frame, by region.
#pragma once

#include <string>
#include <vector>

#include "look/evaluate.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::solve {

// CIELAB (D65) of display-linear BT.2020, clipped to 0..1 in linear sRGB first, as a delivered file would be.
Vec3 LabOfDisplay(const Vec3& rec2020_display);

// Medians per region of matched places: scan, frame as the camera made it, frame after `resolved`. Regions
// with fewer than 12 places are left out. A kind with several faces gets one entry per face, and two more for
// its lit and shaded side where they differ. Worst first.
std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const look::Resolved& resolved);

// The worst left-over above `tolerance` as a reason to look: "skin is redder than in its scan by 3.3"; empty
// when all are within. `left_over`: worst first.
std::string ReasonOf(const std::vector<record::LeftOver>& left_over, double tolerance);

// The same, judged against the aim and not against the scan: a frame that follows less on purpose, or that a
// touch took away from a match within tolerance, is not at fault; a touch that mends a match is taken for it.
std::string ReasonAtFullFollow(const record::Correspondence& matched, const record::Photo& frame,
                               double log2_level, const record::Correction& correction, double tolerance);

// A solution whose touch or follow was changed: its left-over measured again on `matched` (nullptr: kept as
// it was) and its reason to look with it.
void Rejudge(record::FrameSolution& solution, const record::Correspondence* matched,
             const record::Photo& frame, double log2_level, double tolerance);

// "redder", "a little yellower", "lighter": what the frame is against the scan, in a word or two.
std::string DifferenceInWords(record::RegionKind region, const Vec3& lab_frame, const Vec3& lab_scan);

}  // namespace samelight::solve
