#include "solve/left_over.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "color/difference.h"
#include "color/lab.h"
#include "solve/median.h"

namespace samelight::solve {
namespace {

constexpr std::size_t kFewestCells = 12;

Vec3 MedianOf(std::vector<Vec3>& v) {
  Vec3 m;
  std::vector<double> one(v.size());
  for (int c = 0; c < 3; ++c) {
    for (std::size_t i = 0; i < v.size(); ++i) one[i] = v[i][c];
    m[c] = Median(one);
  }
  return m;
}

}  // namespace

Vec3 LabOfDisplay(const Vec3& rec2020_display) {
  static const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  static const Mat3 back = Inverse(srgb);
  Vec3 s = Mul(srgb, rec2020_display);
  for (double& v : s) v = std::clamp(v, 0.0, 1.0);
  return color::LabFromRec2020(Mul(back, s));
}

Vec3 AsTheCameraMadeIt(const record::Photo& frame, double log2_level, const Vec3& rec2020_linear) {
  if (frame.encoding != record::Encoding::kRaw) return rec2020_linear;
  record::Correction c;
  c.frame = frame.id;
  c.follow = c.follow_skin = 0;
  c.unify.exposure_log10 = look::kLogMidGrey - log2_level * look::kLog10Of2;
  return look::Evaluate(look::Resolve(c), rec2020_linear);
}

std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const look::Resolved& resolved) {
  struct Colours {
    std::vector<Vec3> scan, before, after;
  };
  std::map<std::pair<record::RegionKind, int>, Colours> groups;
  for (const record::Cell& cell : matched.cells) {
    if (cell.region == record::RegionKind::kMasked || cell.region == record::RegionKind::kOther) continue;
    const Vec3 a{cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]}, b{cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]};
    Colours& g = groups[{cell.region, cell.region == record::RegionKind::kSkin ? cell.face : -1}];
    g.scan.push_back(LabOfDisplay(a));
    g.before.push_back(LabOfDisplay(AsTheCameraMadeIt(frame, log2_level, b)));
    g.after.push_back(LabOfDisplay(look::Evaluate(resolved, b)));
  }
  std::vector<record::LeftOver> result;
  for (auto& [key, g] : groups) {
    if (g.scan.size() < kFewestCells) continue;
    record::LeftOver l;
    l.region = key.first;
    l.face = key.second;
    l.lab_scan = MedianOf(g.scan);
    l.lab_after = MedianOf(g.after);
    l.before = color::Ciede2000(MedianOf(g.before), l.lab_scan);
    l.after = color::Ciede2000(l.lab_after, l.lab_scan);
    l.cells = static_cast<int>(g.scan.size());
    result.push_back(l);
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const record::LeftOver& a, const record::LeftOver& b) { return a.after > b.after; });
  return result;
}

std::string DifferenceInWords(const Vec3& lab_frame, const Vec3& lab_scan) {
  const std::array<double, 3> d = {lab_frame[0] - lab_scan[0], lab_frame[1] - lab_scan[1],
                                   lab_frame[2] - lab_scan[2]};
  int largest = 0;
  for (int i = 1; i < 3; ++i)
    if (std::abs(d[i]) > std::abs(d[largest])) largest = i;
  if (std::abs(d[largest]) < 0.7) return "alike";
  static constexpr const char* kWords[3][2] = {
      {"darker", "lighter"}, {"greener", "redder"}, {"bluer", "yellower"}};
  const std::string word = kWords[largest][d[largest] > 0 ? 1 : 0];
  return std::abs(d[largest]) < 2 ? "a little " + word : word;
}

}  // namespace samelight::solve
