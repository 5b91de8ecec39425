#include "solve/left_over.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

#include "color/difference.h"
#include "color/lab.h"
#include "solve/region_samples.h"

namespace samelight::solve {

Vec3 LabOfDisplay(const Vec3& rec2020_display) {
  static const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  static const Mat3 back = Inverse(srgb);
  Vec3 s = Mul(srgb, rec2020_display);
  for (double& v : s) v = std::clamp(v, 0.0, 1.0);
  return color::LabFromRec2020(Mul(back, s));
}

std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const look::Resolved& resolved) {
  std::vector<record::LeftOver> result;
  std::vector<RegionSamples> regions = SamplesOf(matched, frame, log2_level);
  std::vector<RegionSamples> sides = FaceSidesOf(matched, frame, log2_level);
  std::move(sides.begin(), sides.end(), std::back_inserter(regions));
  for (const RegionSamples& region : regions) {
    record::LeftOver l;
    l.region = region.kind;
    l.face = region.face;
    l.side = region.side;
    l.lab_scan = region.lab_scan;
    l.lab_after = LabUnder(region, resolved);
    l.before = color::Ciede2000(region.lab_before, l.lab_scan);
    l.after = color::Ciede2000(l.lab_after, l.lab_scan);
    l.cells = static_cast<int>(region.frame.size());
    result.push_back(l);
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const record::LeftOver& a, const record::LeftOver& b) { return a.after > b.after; });
  return result;
}

std::string DifferenceInWords(record::RegionKind region, const Vec3& lab_frame, const Vec3& lab_scan) {
  const std::array<double, 3> d = {lab_frame[0] - lab_scan[0], lab_frame[1] - lab_scan[1],
                                   lab_frame[2] - lab_scan[2]};
  int largest = 0;
  for (int i = 1; i < 3; ++i)
    if (std::abs(d[i]) > std::abs(d[largest])) largest = i;
  if (std::abs(d[largest]) < 0.7) return "alike";
  const char* const words[3][2] = {
      {"darker", "lighter"},
      {"greener", region == record::RegionKind::kSkin ? "redder" : "more magenta"},
      {"bluer", "yellower"}};
  const std::string word = words[largest][d[largest] > 0 ? 1 : 0];
  return std::abs(d[largest]) < 2 ? "a little " + word : word;
}

std::string ReasonOf(const std::vector<record::LeftOver>& left_over, double tolerance) {
  if (left_over.empty() || !(left_over.front().after > tolerance)) return {};
  const record::LeftOver& l = left_over.front();
  const std::string words = DifferenceInWords(l.region, l.lab_after, l.lab_scan), name = record::Name(l.region);
  const std::string where = l.side == record::Side::kWhole
                                ? ""
                                : fmt::format(", on the {} of face {}", record::Name(l.side), l.face + 1);
  if (words == "alike")
    return fmt::format("{}: left-over of {:.1f} against its scan{}", name, l.after, where);
  return fmt::format("{} {} {} than in its scan by {:.1f}{}", name, name.back() == 's' ? "are" : "is", words,
                     l.after, where);
}

std::string ReasonAtFullFollow(const record::Correspondence& matched, const record::Photo& frame,
                               double log2_level, const record::Correction& correction, double tolerance) {
  record::Correction full = correction;
  full.follow = full.follow_skin = 1;
  full.follow_foliage = full.follow_sky = -1;
  std::string reason = ReasonOf(MeasureLeftOver(matched, frame, log2_level, look::Resolve(full)), tolerance);
  if (reason.empty() || full.touch == record::Handles{}) return reason;
  full.touch = {};
  const auto untouched = MeasureLeftOver(matched, frame, log2_level, look::Resolve(full));
  return ReasonOf(untouched, tolerance).empty() ? std::string() : reason;
}

namespace {

// Whether a flag was written by ReasonOf.
bool IsAboutTolerance(const std::string& flag) {
  return std::any_of(record::kAllRegions.begin(), record::kAllRegions.end(), [&](record::RegionKind kind) {
    const std::string name = record::Name(kind);
    return flag.starts_with(name + " is ") || flag.starts_with(name + " are ") ||
           flag.starts_with(name + ": left-over");
  });
}

}  // namespace

void Rejudge(record::FrameSolution& solution, const record::Correspondence* matched,
             const record::Photo& frame, double log2_level, double tolerance) {
  if (matched == nullptr) return;
  solution.left_over = MeasureLeftOver(*matched, frame, log2_level, look::Resolve(solution.correction));
  std::string reason = ReasonAtFullFollow(*matched, frame, log2_level, solution.correction, tolerance);
  std::erase_if(solution.flags, IsAboutTolerance);
  if (!reason.empty()) solution.flags.insert(solution.flags.begin(), std::move(reason));
}

}  // namespace samelight::solve
