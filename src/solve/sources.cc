#include "solve/sources.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/median.h"
#include "solve/film_layers.h"
#include "solve/graph.h"
#include "solve/source_relation.h"

namespace samelight::solve {
namespace {

constexpr double kGuessedColour = 0.03;  // log10, of a source that nothing was matched to
constexpr std::size_t kMostRelationSamples = 6000;

void SetTone(UnifyFrame& f, const SourceRelation& relation) {
  f.tone_in = relation.tone_in;
  f.tone_out = relation.tone_out;
  f.tone = look::ToneCurve(f.tone_in, f.tone_out);
}

// Fits a source on cells matched to frames of related ones; one group of gains per frame of
// display-referred sources, per light otherwise.
void RelateSource(FrameSet& set, const std::string& source, const std::vector<int>& list,
                  const std::vector<std::string>& related) {
  const bool display = set.frames[list.front()].display;
  std::map<LightId, int> light_group;
  std::unordered_map<int, int> group;
  for (int i : list) {
    if (display)
      group[i] = static_cast<int>(group.size());
    else
      group[i] = light_group.emplace(set.frames[i].light, static_cast<int>(light_group.size())).first->second;
  }
  const int groups = display ? static_cast<int>(list.size()) : static_cast<int>(light_group.size());
  std::vector<RelationSample> samples;
  const auto is_related = [&](const UnifyFrame& f) {
    return std::find(related.begin(), related.end(), f.source) != related.end() &&
           (!f.display || set.reference == f.source);
  };
  for (const record::Correspondence& c : set.request.frame_to_frame) {
    const auto a = set.index.find(c.a), b = set.index.find(c.b);
    if (a == set.index.end() || b == set.index.end()) continue;
    const UnifyFrame &fa = set.frames[a->second], &fb = set.frames[b->second];
    const bool a_is_source = fa.source == source && is_related(fb);
    const bool b_is_source = fb.source == source && is_related(fa);
    if (a_is_source == b_is_source || fa.light != fb.light) continue;
    const UnifyFrame& mine = a_is_source ? fa : fb;
    const UnifyFrame& other = a_is_source ? fb : fa;
    for (const record::Cell& cell : c.cells) {
      const float* x = a_is_source ? cell.a_rgb : cell.b_rgb;
      const float* y = a_is_source ? cell.b_rgb : cell.a_rgb;
      RelationSample s;
      s.source = {x[0], x[1], x[2]};
      if (!display) {
        s.source = Mul(mine.matrix, s.source);
        for (double& v : s.source) v *= std::pow(10.0, mine.exposure_log10);
      }
      s.reference = other.Apply(y);
      s.group = group[a_is_source ? a->second : b->second];
      samples.push_back(s);
    }
  }
  if (samples.size() > kMostRelationSamples) {
    std::vector<RelationSample> kept;
    const double step = static_cast<double>(samples.size()) / kMostRelationSamples;
    for (std::size_t i = 0; i < kMostRelationSamples; ++i)
      kept.push_back(samples[static_cast<std::size_t>(i * step)]);
    samples = std::move(kept);
  }
  const SourceRelation relation = FitRelation(display, samples, groups, display ? 0.10 : 0.02);
  if (!relation.fitted)
    set.notes.push_back("No frames of " + source + " were matched to " + set.reference +
                        "; a typical rendering is assumed for it.");
  for (int i : list) {
    UnifyFrame& f = set.frames[i];
    f.related = relation.fitted;
    if (display) {
      SetTone(f, relation);
      f.matrix = relation.matrix;
      f.gain_log10 = relation.gain_log10[group[i]];
      // Level is solved again with the other frames; only colour is kept.
      const double mean = (f.gain_log10[0] + f.gain_log10[1] + f.gain_log10[2]) / 3;
      for (double& g : f.gain_log10) g -= mean;
    } else {
      f.matrix = Mul(relation.matrix, f.matrix);
      f.gain_log10 = relation.gain_log10[group[i]];
    }
  }
}

}  // namespace

void ChooseReference(FrameSet& set) {
  std::map<std::string, std::pair<int, bool>> count;
  for (const UnifyFrame& f : set.frames) {
    ++count[f.source].first;
    count[f.source].second = !f.display;
  }
  std::pair<bool, int> best{false, -1};
  for (const auto& [name, c] : count)
    if (std::pair<bool, int>{c.second, c.first} > best) {
      best = {c.second, c.first};
      set.reference = name;
    }
}

void OneWhitePerLight(FrameSet& set) {
  struct Mean {
    Vec3 log_white{0, 0, 0};
    Mat3 matrix{}, unadapted{};
    bool known = true;  // how the camera sees the light unadapted
    int frames = 0;
    Vec3 white{};
  };
  std::map<std::pair<LightId, std::string>, Mean> means;
  for (const UnifyFrame& f : set.frames) {
    if (f.display) continue;
    const record::RawColour& raw = f.photo->raw;
    Mean& mean = means[{f.light, f.source}];
    for (int c = 0; c < 3; ++c) {
      mean.log_white[c] += std::log(raw.as_shot[c]);
      for (int k = 0; k < 3; ++k) {
        mean.matrix[c][k] += raw.rec2020_from_camera[c][k];
        mean.unadapted[c][k] += raw.rec2020_unadapted[c][k];
      }
    }
    mean.known = mean.known && raw.rec2020_unadapted != kIdentity3;
    ++mean.frames;
  }
  for (auto& [group, mean] : means) {
    for (int c = 0; c < 3; ++c) {
      mean.white[c] = std::exp(mean.log_white[c] / mean.frames);
      for (double& v : mean.matrix[c]) v /= mean.frames;
    }
    if (mean.known) mean.matrix = BalancedForFilm(mean.matrix, mean.unadapted, mean.white);
  }
  for (UnifyFrame& f : set.frames) {
    if (f.display) continue;
    const record::RawColour& raw = f.photo->raw;
    const Mean& mean = means[{f.light, f.source}];
    Vec3 gain;
    for (int c = 0; c < 3; ++c) gain[c] = mean.white[c] / raw.as_shot[c];
    f.matrix = Mul(Mul(mean.matrix, Diagonal(gain)), Inverse(raw.rec2020_from_camera));
  }
}

void GuessTones(FrameSet& set) {
  const SourceRelation prior = PriorRelation(true, 0);
  for (UnifyFrame& f : set.frames)
    if (f.display) SetTone(f, prior);
}

void RelateSources(FrameSet& set) {
  std::map<std::string, std::vector<int>> by_source;
  for (int i = 0; i < static_cast<int>(set.frames.size()); ++i) by_source[set.frames[i].source].push_back(i);
  // Scene-referred sources first, so that a JPEG may learn from every related raw frame.
  std::vector<std::string> order;
  for (const auto& [source, list] : by_source)
    if (source != set.reference) order.push_back(source);
  std::stable_sort(order.begin(), order.end(), [&](const std::string& a, const std::string& b) {
    return set.frames[by_source[a].front()].display < set.frames[by_source[b].front()].display;
  });
  std::vector<std::string> related = {set.reference};
  for (const std::string& source : order) {
    RelateSource(set, source, by_source[source], related);
    related.push_back(source);
  }
}

void EvenDisplayColour(FrameSet& set) {
  std::vector<int> list;
  for (int i = 0; i < static_cast<int>(set.frames.size()); ++i)
    if (set.frames[i].display) list.push_back(i);
  if (list.empty()) return;
  const std::vector<int> light = LightNumbers(set);
  for (int channel : {0, 2}) {  // red and blue against green
    std::vector<GraphPrior> priors(set.frames.size());
    for (std::size_t k = 0; k < set.frames.size(); ++k) priors[k] = {0, set.frames[k].display ? 0.06 : 1e-4};
    std::vector<GraphEdge> edges;
    for (const record::Correspondence& c : set.request.frame_to_frame) {
      const auto a = set.index.find(c.a), b = set.index.find(c.b);
      if (a == set.index.end() || b == set.index.end()) continue;
      const UnifyFrame &fa = set.frames[a->second], &fb = set.frames[b->second];
      if (fa.light != fb.light || (!fa.display && !fb.display)) continue;
      // On near-greys: strong colours are bent by a camera's rendering.
      std::vector<std::pair<double, double>> ratio, away;
      double grey = 0;
      for (const record::Cell& cell : Thinned(c)) {
        const Vec3 xa = fa.Apply(cell.a_rgb), xb = fb.Apply(cell.b_rgb);
        ratio.emplace_back(
            LogPositive(xa[channel]) - LogPositive(xa[1]) - LogPositive(xb[channel]) + LogPositive(xb[1]),
            Greyness(fa.display ? xb : xa));
        grey += ratio.back().second;
      }
      if (grey < 3) continue;
      const double m = WeightedMedian(ratio);
      for (const auto& [value, weight] : ratio) away.emplace_back(std::abs(value - m), weight);
      const double sigma = kEdgeFloor + 1.4826 * WeightedMedian(away) / std::sqrt(grey);
      edges.push_back({a->second, b->second, m, sigma});
    }
    const std::vector<double> g = SolveGraph(priors, edges);
    const std::vector<double> spread = SpreadInGroup(priors, edges, g, light);
    for (int i : list) {
      UnifyFrame& f = set.frames[static_cast<std::size_t>(i)];
      f.gain_log10[channel] += g[static_cast<std::size_t>(i)];
      const double own = std::hypot(spread[static_cast<std::size_t>(i)], f.related ? 0 : kGuessedColour);
      f.doubt.colour = std::max(f.doubt.colour, own);
    }
  }
}

}  // namespace samelight::solve
