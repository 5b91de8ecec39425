#include "codec/camera_matrix.h"

#include <algorithm>
#include <cmath>

#include "color/adapt.h"
#include "color/temperature.h"

namespace samelight::codec {
namespace {

// Neither without an inverse nor with NaN or infinities.
bool Usable(const Mat3& m) {
  for (const auto& row : m)
    for (const double v : row)
      if (!std::isfinite(v)) return false;
  return std::abs(Determinant(m)) > 1e-9;
}

// A calibration with the white of its light; mired 0 where that is not known.
struct Known {
  double mired = 0;
  color::Xy white = color::kD65;
  Mat3 camera_from_xyz{};
};

// Whites of EXIF light sources, temperatures as DNG 1.4, chapter 6, has them.
std::optional<color::Xy> WhiteOf(int light_source) {
  switch (light_source) {
    case 3:   // tungsten
    case 17:  // standard light A
      return color::PlanckianXy(2856);
    case 24:  // studio tungsten
      return color::PlanckianXy(3200);
    case 23:
      return color::kD50;
    case 1:   // daylight
    case 4:   // flash
    case 9:   // fine weather
    case 18:  // standard light B
    case 20:  // D55
      return color::DaylightXy(5500);
    case 10:  // cloudy
    case 19:  // standard light C
    case 21:
      return color::kD65;
    case 11:  // shade
    case 22:  // D75
      return color::DaylightXy(7500);
    default:
      return std::nullopt;
  }
}

constexpr double kDaylightMired = color::MiredFromKelvin(6504);

// The one nearest to D65; of unknown lights the last, which DNG uses for the colder one.
const Known& Daylight(const std::vector<Known>& all) {
  return *std::min_element(all.rbegin(), all.rend(), [](const Known& a, const Known& b) {
    const auto away = [](const Known& k) {
      return k.mired > 0 ? std::abs(k.mired - kDaylightMired) : 1000.0;
    };
    return away(a) < away(b);
  });
}

Known Between(const Known& warm, const Known& cold, double mired) {
  const double t = std::clamp((mired - cold.mired) / (warm.mired - cold.mired), 0.0, 1.0);
  const auto mix = [t](double a, double b) { return t * a + (1 - t) * b; };
  Known out{
      mix(warm.mired, cold.mired), {mix(warm.white.x, cold.white.x), mix(warm.white.y, cold.white.y)}, {}};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      out.camera_from_xyz[i][j] = mix(warm.camera_from_xyz[i][j], cold.camera_from_xyz[i][j]);
  return out;
}

// The calibration for the light whose greys give `neutral` in the camera: temperature and matrix tell each
// other, found by halving steps. Daylight's where there are not two temperatures or no light fits.
Known ForLight(const std::vector<Known>& all, const Vec3& neutral) {
  const auto warm = std::max_element(all.begin(), all.end(),
                                     [](const Known& a, const Known& b) { return a.mired < b.mired; });
  const Known& cold = Daylight(all);
  if (!(cold.mired > 0) || warm->mired - cold.mired < 1) return cold;
  double mired = 0.5 * (warm->mired + cold.mired);
  for (int round = 0; round < 30; ++round) {
    const Mat3 m = Between(*warm, cold, mired).camera_from_xyz;
    if (!Usable(m)) return cold;
    const Vec3 xyz = Mul(Inverse(m), neutral);
    const double sum = xyz[0] + xyz[1] + xyz[2];
    if (!(sum > 0 && xyz[1] > 0)) return cold;
    const double told = color::MiredFromKelvin(color::CctDuvFromXy({xyz[0] / sum, xyz[1] / sum}).cct_k);
    const double next = 0.5 * (mired + std::clamp(told, cold.mired, warm->mired));
    if (std::abs(next - mired) < 0.05) break;
    mired = next;
  }
  return Between(*warm, cold, mired);
}

// White-balanced camera values of linear BT.2020: every row sums to 1. Bradford between the whites, as
// DNG 1.4 has it. Empty where a channel does not see white, or colours cannot be told from it.
std::optional<Mat3> BalancedFromRec2020(const Known& k) {
  Mat3 m =
      Mul(k.camera_from_xyz, Mul(color::Adaptation(color::XyzFromXy(color::kD65), color::XyzFromXy(k.white),
                                                   color::AdaptMethod::kBradford),
                                 color::XyzFromRgb(color::Space::kRec2020)));
  for (auto& row : m) {
    const double sum = row[0] + row[1] + row[2];
    if (!(sum > 1e-6)) return std::nullopt;
    for (double& v : row) v /= sum;
  }
  if (!Usable(m)) return std::nullopt;
  return m;
}

// `green`: what the camera's green sees of D65.
Mat3 Unadapted(const Known& k, double green) {
  return Mul(Diagonal(Vec3{green, green, green}),
             Mul(color::RgbFromXyz(color::Space::kRec2020), Inverse(k.camera_from_xyz)));
}

}  // namespace

bool ColourFrom(const std::vector<CameraCalibration>& calibrations, const std::optional<Vec3>& as_shot,
                record::RawColour& colour) {
  std::vector<Known> all;
  for (const CameraCalibration& c : calibrations) {
    if (!Usable(c.camera_from_xyz)) continue;
    Known k;
    k.camera_from_xyz = c.camera_from_xyz;
    if (const auto white = WhiteOf(c.light_source)) {
      k.white = *white;
      k.mired = color::MiredFromKelvin(color::CctDuvFromXy(*white).cct_k);
    }
    all.push_back(k);
  }
  if (all.empty()) return false;
  // A camera known under one light only is taken to see daylight as it sees that.
  if (all.size() == 1) all.front().white = color::kD65;
  Known daylight = Daylight(all);
  daylight.white = color::kD65;
  const auto of_daylight = BalancedFromRec2020(daylight);
  if (!of_daylight) return false;
  const Vec3 n = Mul(daylight.camera_from_xyz, color::XyzFromXy(color::kD65));
  colour.daylight = {n[1] / n[0], 1, n[1] / n[2]};
  colour.as_shot = as_shot.value_or(colour.daylight);
  const Known light = ForLight(all, {1 / colour.as_shot[0], 1 / colour.as_shot[1], 1 / colour.as_shot[2]});
  const auto of_light = BalancedFromRec2020(light);
  colour.rec2020_from_daylight = Inverse(*of_daylight);
  colour.rec2020_from_camera = of_light ? Inverse(*of_light) : colour.rec2020_from_daylight;
  colour.rec2020_unadapted = Unadapted(of_light ? light : daylight, n[1]);
  return true;
}

}  // namespace samelight::codec
