#include "solve/light_state.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "base/median.h"
#include "look/model.h"

namespace samelight::solve {
namespace {

// How much more the blue layer tells of a light's level than the red one: what warm content needs, as
// simulated sessions have it.
constexpr double kBlueOverRed = 0.2;

// A negative's density ends in its toe, about three stops below mid-grey (common practice): however dark a
// shadow is, a lab's machine sees no less than that. Log10, smoothly limited.
double AboveToe(double log10_exposure) {
  constexpr double kToe = -1.7, kWidth = 0.15;
  return kToe + kWidth * look::Softplus((log10_exposure - kToe) / kWidth);
}

// The light's colour against daylight, log10 of red and blue over green in linear BT.2020: a daylight grey as
// this light's white balance shows it, inverted. A camera's matrix may take a lamp's blue below zero, whose
// logarithm would say anything. Lights end at a black body of 1500 K (0.55, -1.26 by Planck's law) and a deep
// blue sky of 20,000 K (-0.05, 0.25); green and magenta lamps stray like that.
struct LightColour {
  double red = 0, blue = 0;
};
LightColour ColourOfLight(const record::RawColour& raw) {
  Vec3 camera;
  for (int c = 0; c < 3; ++c) camera[c] = raw.daylight[c] / raw.as_shot[c];
  const Vec3 rgb = Mul(raw.rec2020_from_daylight, camera);
  return {std::clamp(LogPositive(rgb[0]) - LogPositive(rgb[1]), -0.5, 0.7),
          std::clamp(LogPositive(rgb[2]) - LogPositive(rgb[1]), -1.3, 0.5)};
}

struct LevelSum {
  double level = 0;
  Vec3 colour{0, 0, 0};
  std::vector<double> brightness;
  int frames = 0;
  Vec3 skin{0, 0, 0};
  int skins = 0;
};

// Median of a raw frame's skin where it shows enough; a camera JPEG's has the camera's own idea of skin.
std::optional<Vec3> SkinOf(const Request& request, const UnifyFrame& f) {
  constexpr double kEnough = 0.005;
  const auto it = request.measured.find(f.photo->id);
  if (f.display || it == request.measured.end()) return std::nullopt;
  for (const record::RegionStat& r : it->second.regions) {
    if (r.kind != record::RegionKind::kSkin || r.face >= 0 || r.area < kEnough) continue;
    const Vec3& q = r.quantiles[2];
    const float rgb[3] = {static_cast<float>(q[0]), static_cast<float>(q[1]), static_cast<float>(q[2])};
    return f.Apply(rgb);
  }
  return std::nullopt;
}

// Colours of the lights against daylight by the as-shot whites of their raw frames, log10, mean 0.
std::map<LightId, Vec3> CastsOfLights(const FrameSet& set) {
  std::map<LightId, Vec3> casts;
  std::map<LightId, int> frames;
  for (const UnifyFrame& f : set.frames) {
    if (f.display) continue;
    const LightColour colour = ColourOfLight(f.photo->raw);
    casts[f.light][0] += colour.red;
    casts[f.light][2] += colour.blue;
    ++frames[f.light];
  }
  for (auto& [light, cast] : casts) {
    const double mean = (cast[0] + cast[1] + cast[2]) / 3;
    for (double& v : cast) v = (v - mean) / frames[light];
  }
  return casts;
}

Vec3 CastOf(const std::map<LightId, Vec3>& casts, LightId light) {
  const auto at = casts.find(light);
  return at == casts.end() ? Vec3{0, 0, 0} : at->second;
}

// Theil-Sen slope (Sen 1968) where it is more than twice its error by chance, else 0.
double SureSlope(const std::vector<std::pair<double, double>>& seen) {
  constexpr std::size_t kFewest = 8;
  if (seen.size() < kFewest) return 0;
  std::vector<double> slopes;
  double sxx = 0, mx = 0;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    mx += seen[i].first / static_cast<double>(seen.size());
    for (std::size_t j = 0; j < i; ++j)
      if (seen[i].first != seen[j].first)
        slopes.push_back((seen[i].second - seen[j].second) / (seen[i].first - seen[j].first));
  }
  if (slopes.empty()) return 0;
  const double slope = Median(slopes);
  std::vector<double> left;
  for (const auto& [x, y] : seen) {
    sxx += (x - mx) * (x - mx);
    left.push_back(y - slope * x);
  }
  const auto [middle, spread] = MedianAndSpread(left);
  return std::abs(slope) > 2 * (spread + 1e-4) / std::sqrt(sxx) ? slope : 0;
}

// How the light itself changes over its frames, by the cameras' whites and exposure data: robust slopes
// from its middle to its end, less what chance would give.
LightDrift DriftOf(const FrameSet& set, LightId light) {
  std::array<std::vector<std::pair<double, double>>, 3>
      seen;  // place, value; red, blue against green; brightness
  for (const UnifyFrame& f : set.frames) {
    if (f.light != light) continue;
    if (const auto x = ExifExposure(f.photo->capture)) seen[2].emplace_back(f.place, -*x);
    if (f.display) continue;
    const LightColour colour = ColourOfLight(f.photo->raw);
    seen[0].emplace_back(f.place, colour.red);
    seen[1].emplace_back(f.place, colour.blue);
  }
  return {std::abs(SureSlope(seen[2])), std::max(std::abs(SureSlope(seen[0])), std::abs(SureSlope(seen[1])))};
}

}  // namespace

std::optional<Content> ContentOf(const Request& request, const UnifyFrame& f, const Vec3& cast) {
  const auto it = request.measured.find(f.photo->id);
  if (it == request.measured.end()) return std::nullopt;
  double area = 0;
  Vec3 layer{0, 0, 0};
  for (const record::RegionStat& r : it->second.regions) {
    if (r.face >= 0 || r.area <= 0) continue;
    area += r.area;
    // The quantiles stand for what lies around them.
    constexpr double kStandsFor[5] = {0.15, 0.225, 0.25, 0.225, 0.15};
    for (int k = 0; k < 5; ++k) {
      const Vec3& q = r.quantiles[k];
      const float rgb[3] = {static_cast<float>(q[0]), static_cast<float>(q[1]), static_cast<float>(q[2])};
      const Vec3 seen = f.Apply(rgb);
      for (int c = 0; c < 3; ++c)
        layer[c] += r.area * kStandsFor[k] * (AboveToe(LogPositive(seen[c]) + cast[c]) - cast[c]);
    }
  }
  if (area <= 0) return std::nullopt;
  Content content;
  content.level_log10 = (layer[0] + layer[1] + layer[2]) / (3 * area);
  for (int c = 0; c < 3; ++c) content.grey_log10[c] = layer[c] / area - content.level_log10;
  // Warm content counts as darker: see the decision on the solve.
  content.level_log10 += kBlueOverRed * (layer[2] - layer[0]) / area;
  return content;
}

void TellLights(const FrameSet& set, Unification& unified) {
  std::map<LightId, LevelSum> sums;
  const std::map<LightId, Vec3> casts = CastsOfLights(set);
  for (const UnifyFrame& f : set.frames) {
    LevelSum& s = sums[f.light];
    if (const auto x = ExifExposure(f.photo->capture)) s.brightness.push_back(-*x);
    if (const std::optional<Vec3> skin = SkinOf(set.request, f)) {
      for (int c = 0; c < 3; ++c) s.skin[c] += LogPositive((*skin)[c]);
      ++s.skins;
    }
    if (const std::optional<Content> content = ContentOf(set.request, f, CastOf(casts, f.light))) {
      unified.content[f.photo->id] = *content;
      s.level += content->level_log10;
      for (int c = 0; c < 3; ++c) s.colour[c] += content->grey_log10[c];
      ++s.frames;
    }
  }
  for (auto& [light, s] : sums) {
    LightState state;
    if (!s.brightness.empty()) state.brightness_log10 = Median(s.brightness);
    state.frames = s.frames;
    state.drift = DriftOf(set, light);
    const double n = std::max(1, s.frames);
    state.level_log10 = s.frames > 0 ? s.level / n : record::kUsualLevel;
    for (int c = 0; c < 3; ++c) state.grey_log10[c] = s.colour[c] / n;
    state.cast_log10 = CastOf(casts, light);
    if (s.skins > 0) {
      state.skin.emplace();
      for (int c = 0; c < 3; ++c) (*state.skin)[c] = std::pow(10.0, s.skin[c] / s.skins);
    }
    unified.lights[light] = state;
  }
}

}  // namespace samelight::solve
