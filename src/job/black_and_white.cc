#include "job/black_and_white.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "color/space.h"
#include "job/stages.h"
#include "look/evaluate.h"
#include "measure/cache.h"

namespace samelight::job {
namespace {

constexpr int kLevels = 65;
constexpr std::size_t kMostPictures = 24;  // enough for a tone; each costs about 50 ms

// Luma of encoded colours, as render takes it.
float Luma(const Mat3& srgb, const Vec3& rec2020_linear) {
  const Vec3 v = Mul(srgb, rec2020_linear);
  constexpr double kWeight[3] = {0.2126, 0.7152, 0.0722};
  double luma = 0;
  for (int c = 0; c < 3; ++c)
    luma += kWeight[c] * color::Encode(color::Space::kSrgb, std::clamp(v[c], 0.0, 1.0));
  return static_cast<float>(luma);
}

// Adds the lumas of a picture in the cache; of a frame in its film look.
void AddLumas(const session::Session& session, const record::Photo& photo,
              const record::FrameSolution* solution, std::vector<float>& lumas) {
  Result<measure::Cached> cached = measure::ReadCached(AnalysisFile(session, photo));
  if (!cached.ok()) return;
  const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const image::RgbF& pixels = cached->analysis.pixels;
  const record::Measured& m = cached->measured;
  look::Resolved resolved;
  if (solution != nullptr) resolved = look::Resolve(solution->correction);
  const int step = std::max(1, pixels.width() / 120);
  // Without the border that a scan may have.
  for (int y = static_cast<int>(m.inner_top * pixels.height());
       y < static_cast<int>(m.inner_bottom * pixels.height()); y += step)
    for (int x = static_cast<int>(m.inner_left * pixels.width());
         x < static_cast<int>(m.inner_right * pixels.width()); x += step) {
      const float* p = pixels.at(x, y);
      const Vec3 rgb{p[0], p[1], p[2]};
      lumas.push_back(Luma(srgb, solution != nullptr ? look::Evaluate(resolved, rgb) : rgb));
    }
}

float Quantile(const std::vector<float>& sorted, double q) {
  const double at = q * static_cast<double>(sorted.size() - 1);
  const auto i = static_cast<std::size_t>(at);
  const auto next = std::min(i + 1, sorted.size() - 1);
  return sorted[i] + static_cast<float>(at - static_cast<double>(i)) * (sorted[next] - sorted[i]);
}

}  // namespace

std::vector<float> BlackAndWhiteTone(const session::Session& session, const Goods& goods) {
  std::set<RollId> grey;
  for (const record::Roll& roll : goods.rolls)
    if (roll.black_and_white) grey.insert(roll.id);
  std::unordered_map<PhotoId, const record::Photo*> photo_of;
  for (const record::Photo& photo : goods.photos) photo_of[photo.id] = &photo;
  std::unordered_map<PhotoId, const record::FrameSolution*> solution_of;
  for (const record::FrameSolution& solution : goods.match.frames) solution_of[solution.frame] = &solution;
  std::vector<PhotoId> scans, frames;
  for (const record::Pair& pair : goods.pairs.pairs) {
    const auto scan = photo_of.find(pair.scan);
    if (scan == photo_of.end() || !grey.contains(scan->second->roll) ||
        pair.kind == record::PairKind::kNone || !solution_of.contains(pair.frame) ||
        goods.standing.barred.contains(pair.scan))
      continue;
    scans.push_back(pair.scan);
    frames.push_back(pair.frame);
  }
  if (scans.empty()) {
    for (const record::Photo& photo : goods.photos) {
      if (photo.role == record::Role::kScan && grey.contains(photo.roll)) scans.push_back(photo.id);
      if (solution_of.contains(photo.id)) frames.push_back(photo.id);
    }
  }
  const auto lumas = [&](const std::vector<PhotoId>& ids) {
    std::vector<float> all;
    const std::size_t count = std::min(kMostPictures, ids.size());
    for (std::size_t i = 0; i < count; ++i) {
      const PhotoId id = ids[i * ids.size() / count];
      const auto solution = solution_of.find(id);
      const auto photo = photo_of.find(id);
      if (photo != photo_of.end())
        AddLumas(session, *photo->second, solution == solution_of.end() ? nullptr : solution->second, all);
    }
    std::sort(all.begin(), all.end());
    return all;
  };
  const std::vector<float> film = lumas(scans), digital = lumas(frames);
  if (film.size() < 1000 || digital.size() < 1000) return {};
  // Quantiles from 0.5 to 99.5 %, beyond them as steep as there is room.
  std::vector<std::pair<float, float>> knots = {{0.0f, Quantile(film, 0.001)}};
  for (double q = 0.005; q < 0.9951; q += 0.03) {
    const float x = Quantile(digital, q), y = Quantile(film, q);
    if (x > knots.back().first + 0.01f) knots.emplace_back(x, std::max(y, knots.back().second));
  }
  if (knots.back().first < 0.99f)
    knots.emplace_back(1.0f, std::max(knots.back().second, Quantile(film, 0.999)));
  std::vector<float> tone(kLevels);
  for (int i = 0; i < kLevels; ++i) {
    const float x = static_cast<float>(i) / (kLevels - 1);
    const auto above =
        std::find_if(knots.begin() + 1, knots.end(), [&](const auto& k) { return k.first >= x; });
    if (above == knots.end()) {
      tone[static_cast<std::size_t>(i)] = knots.back().second;
      continue;
    }
    const auto& [x0, y0] = *(above - 1);
    tone[static_cast<std::size_t>(i)] = y0 + (above->second - y0) * (x - x0) / (above->first - x0);
  }
  // Twice smoothed, so that no knot shows; still monotone.
  for (int pass = 0; pass < 2; ++pass) {
    const std::vector<float> before = tone;
    for (std::size_t i = 1; i + 1 < tone.size(); ++i)
      tone[i] = 0.25f * before[i - 1] + 0.5f * before[i] + 0.25f * before[i + 1];
  }
  return tone;
}

std::vector<float> ToneIn(color::Space space, const std::vector<float>& tone) {
  if (space == color::Space::kSrgb || tone.size() < 2) return tone;
  constexpr int kSteps = 257;
  std::vector<float> out(kSteps);
  for (int i = 0; i < kSteps; ++i) {
    const double in = static_cast<double>(i) / (kSteps - 1);
    const double luma = color::Encode(color::Space::kSrgb, color::Decode(space, in));
    const double at = std::clamp(luma, 0.0, 1.0) * static_cast<double>(tone.size() - 1);
    const auto k = std::min(static_cast<std::size_t>(at), tone.size() - 2);
    const double v = tone[k] + (at - static_cast<double>(k)) * (tone[k + 1] - tone[k]);
    out[static_cast<std::size_t>(i)] =
        static_cast<float>(color::Encode(space, color::Decode(color::Space::kSrgb, v)));
  }
  return out;
}

}  // namespace samelight::job
