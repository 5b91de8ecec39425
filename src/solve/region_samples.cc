#include "solve/region_samples.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "solve/face_sides.h"
#include "solve/left_over.h"
#include "base/median.h"

namespace samelight::solve {
namespace {

constexpr std::size_t kFewestCells = 12;

Vec3 MedianOf(const std::vector<Vec3>& v) {
  Vec3 m;
  std::vector<double> one(v.size());
  for (int c = 0; c < 3; ++c) {
    for (std::size_t i = 0; i < v.size(); ++i) one[i] = v[i][c];
    m[c] = Median(one);
  }
  return m;
}

// The camera's rendering made ready once for many pixels.
class Camera {
 public:
  Camera(const record::Photo& frame, double log2_level)
      : raw_(frame.encoding == record::Encoding::kRaw),
        resolved_(raw_ ? look::Resolve(CameraRendering(frame, log2_level)) : look::Resolved{}) {}
  Vec3 operator()(const Vec3& pixel) const { return raw_ ? look::Evaluate(resolved_, pixel) : pixel; }

 private:
  bool raw_;
  look::Resolved resolved_;
};

// The places of one region.
struct Colours {
  std::vector<Vec3> frame, scan, before;
  void Add(const record::Cell& cell, const Camera& camera) {
    const Vec3 a{cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]}, b{cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]};
    frame.push_back(b);
    scan.push_back(LabOfDisplay(a));
    before.push_back(LabOfDisplay(camera(b)));
  }
};
using Groups = std::map<std::tuple<record::RegionKind, int, record::Side>, Colours>;

std::vector<RegionSamples> Regions(Groups& groups) {
  std::vector<RegionSamples> regions;
  for (auto& [key, g] : groups) {
    if (g.frame.size() < kFewestCells) continue;
    RegionSamples region{std::get<0>(key), std::get<1>(key), std::move(g.frame), true};
    region.side = std::get<2>(key);
    region.lab_scan = MedianOf(g.scan);
    region.lab_before = MedianOf(g.before);
    regions.push_back(std::move(region));
  }
  return regions;
}

}  // namespace

record::Correction CameraRendering(const record::Photo& frame, double log2_level) {
  record::Correction c;
  c.frame = frame.id;
  c.follow = c.follow_skin = 0;
  c.unify.exposure_log10 = look::kLogMidGrey - log2_level * look::kLog10Of2;
  return c;
}

std::vector<RegionSamples> SamplesOf(const record::Correspondence& matched, const record::Photo& frame,
                                     double log2_level) {
  const Camera camera(frame, log2_level);
  Groups groups;
  for (const record::Cell& cell : matched.cells) {
    if (cell.region == record::RegionKind::kMasked || cell.region == record::RegionKind::kOther) continue;
    const bool skin = cell.region == record::RegionKind::kSkin;
    groups[{cell.region, skin ? cell.face : -1, record::Side::kWhole}].Add(cell, camera);
  }
  return Regions(groups);
}

std::vector<RegionSamples> FaceSidesOf(const record::Correspondence& matched, const record::Photo& frame,
                                       double log2_level) {
  std::map<int, std::vector<const record::Cell*>> faces;
  for (const record::Cell& cell : matched.cells)
    if (cell.region == record::RegionKind::kSkin && cell.face >= 0) faces[cell.face].push_back(&cell);
  const Camera camera(frame, log2_level);
  Groups groups;
  for (const auto& [face, cells] : faces) {
    std::vector<double> lightness;
    for (const record::Cell* cell : cells)
      lightness.push_back(LabOfDisplay({cell->a_rgb[0], cell->a_rgb[1], cell->a_rgb[2]})[0]);
    const std::vector<record::Side> sides = SidesOf(lightness);
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (sides[i] != record::Side::kWhole)
        groups[{record::RegionKind::kSkin, face, sides[i]}].Add(*cells[i], camera);
  }
  return Regions(groups);
}

std::vector<RegionSamples> SamplesOf(const record::Measured& measured, const record::Photo& frame) {
  const Camera camera(frame, measured.light.log2_level);
  const bool faces = std::any_of(measured.regions.begin(), measured.regions.end(),
                                 [](const record::RegionStat& s) { return s.face >= 0; });
  std::vector<RegionSamples> regions;
  for (const record::RegionStat& stat : measured.regions) {
    if (stat.kind == record::RegionKind::kOther || stat.kind == record::RegionKind::kMasked) continue;
    if (stat.kind == record::RegionKind::kSkin && faces && stat.face < 0) continue;
    RegionSamples region{stat.kind, stat.face, {stat.quantiles[2]}};
    region.lab_before = LabOfDisplay(camera(stat.quantiles[2]));
    regions.push_back(std::move(region));
  }
  return regions;
}

Vec3 LabUnder(const RegionSamples& region, const look::Resolved& resolved, std::size_t most) {
  const std::size_t count = region.frame.size();
  const std::size_t taken = most == 0 ? count : std::min(most, count);
  std::vector<Vec3> lab(taken);
  for (std::size_t i = 0; i < taken; ++i)
    lab[i] = LabOfDisplay(look::Evaluate(resolved, region.frame[i * count / taken]));
  return MedianOf(lab);
}

}  // namespace samelight::solve
