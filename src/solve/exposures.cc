#include "solve/exposures.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/median.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "solve/graph.h"
#include "solve/light_state.h"

namespace samelight::solve {
namespace {

constexpr double kExifSigma = 0.10;  // log10; a stop is 0.30. Shutters, apertures and the light itself vary
constexpr double kLeastExifSigma = 0.015, kExifSigmaCounts = 10;  // frames that the usual spread counts for
constexpr double kLevelSigma = 0.25;                              // log10; where no exposure data is written
constexpr double kConstantSigma = 0.5;                            // log10; a source's own constant
constexpr double kFreeSigma = 5;                                  // log10; held by its edges only
// log10; what is left of a camera JPEG's tone curve at usual levels, fitted and guessed.
constexpr double kTone = 0.015, kGuessedTone = 0.06;
constexpr double kUnusual = 3, kUsualContent = 0.08;  // of the levels of a light's pictures; log10

// log10 of the frame's median level, scene-linear as far as its tone is known.
double LevelOf(const FrameSet& set, const UnifyFrame& f) {
  const auto m = set.request.measured.find(f.photo->id);
  const double level =
      m == set.request.measured.end() ? look::kLogMidGrey : m->second.light.log2_level * look::kLog10Of2;
  return f.display && !f.tone.empty() ? f.tone(level) : level;
}

void DoubtOfExposures(FrameSet& set, const std::vector<GraphPrior>& priors,
                      const std::vector<GraphEdge>& edges, const std::vector<double>& departure) {
  const std::vector<double> spread = SpreadInGroup(priors, edges, departure, LightNumbers(set));
  for (std::size_t i = 0; i < set.frames.size(); ++i) {
    // The tone curve of a camera JPEG is undone as well as its source is known.
    set.frames[i].doubt.level =
        std::hypot(spread[i], set.frames[i].display ? (set.frames[i].related ? kTone : kGuessedTone) : 0);
    set.frames[i].tied = false;
  }
  for (const GraphEdge& e : edges)
    for (const int i : {e.a, e.b})
      if (e.a < static_cast<int>(set.frames.size()) && i < static_cast<int>(set.frames.size()))
        set.frames[i].tied = true;
}

// How far exposure data can be trusted in this session (empirical Bayes): from what matched cells make of
// the raw frames' departures from it.
double LearnedExifSigma(const FrameSet& set, const std::vector<double>& departure,
                        const std::vector<GraphEdge>& edges, double before) {
  std::vector<int> matched(set.frames.size(), 0);
  for (const GraphEdge& e : edges)
    for (const int i : {e.a, e.b})
      if (i < static_cast<int>(set.frames.size())) ++matched[static_cast<std::size_t>(i)];
  std::map<LightId, std::vector<double>> by_light;
  for (std::size_t i = 0; i < set.frames.size(); ++i)
    if (!set.frames[i].display && matched[i] >= 2 && ExifExposure(set.frames[i].photo->capture))
      by_light[set.frames[i].light].push_back(departure[i]);
  std::vector<double> away;
  for (auto& [light, d] : by_light) {
    if (d.size() < 3) continue;
    const double middle = Median(d);
    for (double v : d) away.push_back(std::abs(v - middle));
  }
  if (away.empty()) return before;
  const double count = static_cast<double>(away.size()), seen = 1.4826 * Median(away);
  return std::max(kLeastExifSigma,
                  std::sqrt((count * seen * seen + kExifSigmaCounts * kExifSigma * kExifSigma) /
                            (count + kExifSigmaCounts)));
}

}  // namespace

double SolveExposures(FrameSet& set, std::optional<double> exif_sigma) {
  const double sigma_of_exif = exif_sigma.value_or(kExifSigma);
  const int count = static_cast<int>(set.frames.size());
  std::vector<double> exif(set.frames.size());
  std::vector<GraphPrior> priors(set.frames.size());
  std::vector<GraphEdge> edges;
  std::map<std::string, int> common;  // node of a source's or light's own constant
  for (int i = 0; i < count; ++i) {
    UnifyFrame& f = set.frames[i];
    f.exposure_log10 = 0;
    const auto x = ExifExposure(f.photo->capture);
    exif[i] = x ? *x : LevelOf(set, f);
    if (x && !f.display) {
      priors[i] = {0, sigma_of_exif};
      continue;
    }
    std::string key = f.source;
    if (!x) key += " light " + std::to_string(f.light.value);
    const auto [node, fresh] = common.emplace(key, count + static_cast<int>(common.size()));
    if (fresh) priors.push_back({0, kConstantSigma});
    priors[i] = {0, kFreeSigma};
    edges.push_back({node->second, i, 0, x ? 1.4 * sigma_of_exif : kLevelSigma});
  }
  for (const record::Correspondence& c : set.request.frame_to_frame) {
    const auto a = set.index.find(c.a), b = set.index.find(c.b);
    if (a == set.index.end() || b == set.index.end()) continue;
    const UnifyFrame &fa = set.frames[a->second], &fb = set.frames[b->second];
    if (fa.light != fb.light) continue;
    std::vector<double> ratio;
    for (const record::Cell& cell : Thinned(c))
      ratio.push_back(LogPositive(color::LuminanceRec2020(fa.Apply(cell.a_rgb))) -
                      LogPositive(color::LuminanceRec2020(fb.Apply(cell.b_rgb))));
    if (ratio.size() < 8) continue;
    const auto [m, spread] = MedianAndSpread(ratio);
    double sigma = kEdgeFloor + spread / std::sqrt(static_cast<double>(ratio.size()));
    if (fa.display != fb.display) sigma += 0.02;
    // ya 10^ea = yb 10^eb with e = departure - exif.
    edges.push_back({a->second, b->second, m + exif[b->second] - exif[a->second], sigma});
  }
  const std::vector<double> departure = SolveGraph(priors, edges);
  DoubtOfExposures(set, priors, edges, departure);
  const double learned = LearnedExifSigma(set, departure, edges, sigma_of_exif);
  // Mean correction of a light's frames is zero, so that unified frames stay near the camera's own levels.
  std::map<LightId, std::pair<double, int>> mean;
  for (int i = 0; i < count; ++i) {
    set.frames[i].exposure_log10 = departure[i] - exif[i];
    auto& [sum, n] = mean[set.frames[i].light];
    sum += set.frames[i].exposure_log10;
    ++n;
  }
  for (UnifyFrame& f : set.frames) f.exposure_log10 -= mean[f.light].first / mean[f.light].second;
  return learned;
}

void DoubtUntiedFrames(FrameSet& set) {
  std::map<LightId, std::vector<std::pair<UnifyFrame*, double>>> by_light;
  for (UnifyFrame& f : set.frames)
    if (const std::optional<Content> content = ContentOf(set.request, f, {0, 0, 0}))
      by_light[f.light].emplace_back(&f, content->level_log10);
  for (auto& [light, list] : by_light) {
    if (list.size() < 4) continue;
    std::vector<double> levels;
    for (const auto& [frame, level] : list) levels.push_back(level);
    const auto [middle, spread] = MedianAndSpread(levels);
    for (const auto& [frame, level] : list)
      if (!frame->tied && std::abs(level - middle) > kUnusual * std::max(spread, kUsualContent))
        frame->doubt.level = std::max(frame->doubt.level, 0.5 * std::abs(level - middle));
  }
}

}  // namespace samelight::solve
