#include "solve/region_samples.h"

#include <algorithm>
#include <map>

#include "solve/left_over.h"
#include "solve/median.h"

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
  struct Colours {
    std::vector<Vec3> frame, scan, before;
  };
  const Camera camera(frame, log2_level);
  std::map<std::pair<record::RegionKind, int>, Colours> groups;
  for (const record::Cell& cell : matched.cells) {
    if (cell.region == record::RegionKind::kMasked || cell.region == record::RegionKind::kOther) continue;
    const Vec3 a{cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]}, b{cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]};
    Colours& g = groups[{cell.region, cell.region == record::RegionKind::kSkin ? cell.face : -1}];
    g.frame.push_back(b);
    g.scan.push_back(LabOfDisplay(a));
    g.before.push_back(LabOfDisplay(camera(b)));
  }
  std::vector<RegionSamples> regions;
  for (auto& [key, g] : groups) {
    if (g.frame.size() < kFewestCells) continue;
    RegionSamples region{key.first, key.second, std::move(g.frame), true};
    region.lab_scan = MedianOf(g.scan);
    region.lab_before = MedianOf(g.before);
    regions.push_back(std::move(region));
  }
  return regions;
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
