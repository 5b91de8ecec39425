#include "solve/unify_frames.h"

#include <cmath>
#include <map>

#include "base/median.h"
#include "look/evaluate.h"

namespace samelight::solve {

double LogPositive(double v) { return std::log10(look::PositiveExposure(v)); }

Vec3 UnifyFrame::Apply(const float rgb[3]) const {
  Vec3 x{rgb[0], rgb[1], rgb[2]};
  if (display && !tone.empty())
    for (double& v : x) v = std::pow(10.0, tone(LogPositive(v)));
  x = Mul(matrix, x);
  for (int c = 0; c < 3; ++c) x[c] *= std::pow(10.0, gain_log10[c] + exposure_log10);
  return x;
}

FrameSet::FrameSet(const Request& session) : request(session) {
  std::unordered_map<PhotoId, LightId> light_of;
  std::unordered_map<PhotoId, double> place;
  for (const record::Light& light : session.lights)
    for (std::size_t i = 0; i < light.frames.size(); ++i) {
      light_of[light.frames[i]] = light.id;
      if (light.frames.size() > 1)
        place[light.frames[i]] =
            2.0 * static_cast<double>(i) / static_cast<double>(light.frames.size() - 1) - 1;
    }
  for (const record::Photo& photo : session.photos) {
    if (photo.role != record::Role::kFrame) continue;
    UnifyFrame f;
    f.photo = &photo;
    f.light = light_of.contains(photo.id) ? light_of[photo.id] : LightId{};
    f.place = place[photo.id];
    f.source = record::SourceName(photo);
    f.display = photo.encoding != record::Encoding::kRaw;
    index[photo.id] = static_cast<int>(frames.size());
    frames.push_back(std::move(f));
  }
}

std::vector<int> LightNumbers(const FrameSet& set) {
  std::map<LightId, int> number;
  std::vector<int> light;
  for (const UnifyFrame& f : set.frames)
    light.push_back(number.emplace(f.light, static_cast<int>(number.size())).first->second);
  return light;
}

std::vector<record::Cell> Thinned(const record::Correspondence& matched) {
  constexpr std::size_t kCellsPerEdge = 60;
  if (matched.cells.size() <= kCellsPerEdge) return matched.cells;
  std::vector<record::Cell> out;
  const double step = static_cast<double>(matched.cells.size()) / kCellsPerEdge;
  for (std::size_t i = 0; i < kCellsPerEdge; ++i)
    out.push_back(matched.cells[static_cast<std::size_t>(i * step)]);
  return out;
}

std::pair<double, double> MedianAndSpread(std::vector<double>& v) {
  const double m = Median(v);
  for (double& x : v) x = std::abs(x - m);
  return {m, 1.4826 * Median(v)};
}

std::optional<double> ExifExposure(const record::Capture& c) {
  if (!c.exposure_time_s || !c.aperture || !c.iso) return std::nullopt;
  const double v = *c.exposure_time_s * *c.iso / (*c.aperture * *c.aperture);
  if (!(v > 0) || !std::isfinite(v)) return std::nullopt;
  return std::log10(v);
}

}  // namespace samelight::solve
