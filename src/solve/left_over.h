// The difference that remains between a scan and its frame, by region.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "look/evaluate.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::solve {

// CIELAB (D65) of display-linear BT.2020, clipped to 0..1 in linear sRGB first, as a delivered file would be.
Vec3 LabOfDisplay(const Vec3& rec2020_display);

// The full match of a correction: a lesser follow is no fault of it.
record::Correction FullMatch(const record::Correction& correction);

// Medians per region of matched places: scan, frame as the camera made it, frame corrected. Regions with
// fewer than 12 places are left out. A kind with several faces gets one entry per face, and two more for its
// lit and shaded side where they differ. Worst first.
//
// The aim of the frame is the scan without what the lab did to it alone: lab_aim is lab_scan moved by what
// taking `nudge` (FrameSolution::nudge) off does to the region under the correction; a nudge that no lab
// makes (scan_nudge.h) is not taken off. How far the frame is
// from its aim is told of the full match, with and without the touch, whichever is nearer: a frame that
// follows less on purpose, or that a touch took away from a match, is not at fault; a touch that mends a
// match is taken for it.
std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const record::Correction& correction,
                                              const record::ScanNudge& nudge = {});

// What is farthest from its aim, if by more than `tolerance`, as a reason to look: "skin is redder than in
// its scan by 3.3". Names the face where there are several, and how much of the difference from the scan is
// the scan's own.
std::optional<record::Flag> ReasonOf(const std::vector<record::LeftOver>& left_over, double tolerance);

// "redder", "a little yellower", "lighter": what the frame is against the scan, in a word or two.
std::string DifferenceInWords(record::RegionKind region, const Vec3& lab_frame, const Vec3& lab_scan);

}  // namespace samelight::solve
