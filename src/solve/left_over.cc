#include "solve/left_over.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <string_view>

#include "color/difference.h"
#include "color/lab.h"
#include "solve/region_samples.h"
#include "solve/scan_nudge.h"

namespace samelight::solve {

Vec3 LabOfDisplay(const Vec3& rec2020_display) {
  static const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  static const Mat3 back = Inverse(srgb);
  Vec3 s = Mul(srgb, rec2020_display);
  for (double& v : s) v = std::clamp(v, 0.0, 1.0);
  return color::LabFromRec2020(Mul(back, s));
}

record::Correction FullMatch(const record::Correction& correction) {
  record::Correction full = correction;
  full.follow = full.follow_skin = 1;
  full.follow_foliage = full.follow_sky = -1;
  return full;
}

std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const record::Correction& correction,
                                              const record::ScanNudge& nudge) {
  const record::Correction touched = FullMatch(correction);
  record::Correction untouched = touched;
  untouched.touch = {};
  record::Correction scan = untouched;
  Add(nudge, scan);
  const look::Resolved now = look::Resolve(correction), as_touched = look::Resolve(touched),
                       as_solved = look::Resolve(untouched), as_scan = look::Resolve(scan);
  const bool taken_off = nudge != record::ScanNudge{} && IsOfALab(nudge);
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
    l.lab_after = LabUnder(region, now);
    l.before = color::Ciede2000(region.lab_before, l.lab_scan);
    l.after = color::Ciede2000(l.lab_after, l.lab_scan);
    l.cells = static_cast<int>(region.frame.size());
    const Vec3 solved = untouched == correction ? l.lab_after : LabUnder(region, as_solved);
    l.lab_aim = l.lab_scan;
    if (taken_off) {
      const Vec3 with = LabUnder(region, as_scan);
      for (int c = 0; c < 3; ++c) l.lab_aim[c] += solved[c] - with[c];
    }
    l.nudge = color::Ciede2000(l.lab_aim, l.lab_scan);
    l.lab_off = solved;
    l.off_aim = color::Ciede2000(solved, l.lab_aim);
    if (touched != untouched) {
      const Vec3 mended = LabUnder(region, as_touched);
      if (const double off = color::Ciede2000(mended, l.lab_aim); off < l.off_aim) {
        l.lab_off = mended;
        l.off_aim = off;
      }
    }
    result.push_back(l);
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const record::LeftOver& a, const record::LeftOver& b) { return a.after > b.after; });
  return result;
}

namespace {
constexpr char kALittle[] = "a little ";
}  // namespace

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
  return std::abs(d[largest]) < 2 ? kALittle + word : word;
}

std::optional<record::Flag> ReasonOf(const std::vector<record::LeftOver>& left_over, double tolerance) {
  const auto worst = std::max_element(
      left_over.begin(), left_over.end(),
      [](const record::LeftOver& a, const record::LeftOver& b) { return a.off_aim < b.off_aim; });
  if (worst == left_over.end() || !(worst->off_aim > tolerance)) return std::nullopt;
  const record::LeftOver& l = *worst;
  const bool faces = std::any_of(left_over.begin(), left_over.end(), [&](const record::LeftOver& other) {
    return other.face >= 0 && l.face >= 0 && other.face != l.face;
  });
  std::string where;
  if (l.side != record::Side::kWhole)
    where = fmt::format(", on the {} of face {}", record::Name(l.side), l.face + 1);
  else if (faces)
    where = fmt::format(", on face {}", l.face + 1);
  // What the scan's own nudge makes is no fault of the frame; where that is seen, it is said.
  if (l.nudge >= 0.5) where += fmt::format(" (the scan's own nudge of {:.1f} left aside)", l.nudge);
  const std::string words = DifferenceInWords(l.region, l.lab_off, l.lab_aim), name = record::Name(l.region);
  record::Flag flag{record::FlagKind::kLeftOver, "", name + ": left-over"};
  if (words == "alike") {
    flag.text = fmt::format("{}: left-over of {:.1f} against its scan{}", name, l.off_aim, where);
    return flag;
  }
  const std::string is = fmt::format("{} {} ", name, name.back() == 's' ? "are" : "is");
  flag.text = fmt::format("{}{} than in its scan by {:.1f}{}", is, words, l.off_aim, where);
  flag.brief = is + (words.starts_with(kALittle) ? words.substr(std::string_view(kALittle).size()) : words);
  return flag;
}

}  // namespace samelight::solve
