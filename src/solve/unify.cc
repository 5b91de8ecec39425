#include "solve/unify.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>

#include "base/groups.h"
#include "base/median.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "solve/graph.h"
#include "solve/source_relation.h"

namespace samelight::solve {
namespace {

using record::Encoding;
using record::Photo;

constexpr double kExifSigma = 0.10;  // log10; a stop is 0.30. Shutters, apertures and the light itself vary
constexpr double kLeastExifSigma = 0.015, kExifSigmaCounts = 10;  // frames that the usual spread counts for
constexpr double kLevelSigma = 0.25;                              // log10; where no exposure data is written
constexpr double kConstantSigma = 0.5;                            // log10; a source's own constant
constexpr double kFreeSigma = 5;                                  // log10; held by its edges only
// How much more the blue layer tells of a light's level than the red one: what warm content needs, as
// simulated sessions have it.
constexpr double kBlueOverRed = 0.2;
// log10; what is left of a camera JPEG's tone curve at usual levels, fitted and guessed.
constexpr double kTone = 0.015, kGuessedTone = 0.06;
constexpr double kGuessedColour = 0.03;               // log10, of a source that nothing was matched to
constexpr double kUnusual = 3, kUsualContent = 0.08;  // of the levels of a light's pictures; log10
constexpr double kEdgeFloor = 0.015;                  // log10; best agreement of one edge
constexpr std::size_t kCellsPerEdge = 60;
constexpr std::size_t kMostRelationSamples = 6000;

double LogPositive(double v) { return std::log10(look::PositiveExposure(v)); }

// A negative's density ends in its toe, about three stops below mid-grey (common practice): however dark a
// shadow is, a lab's machine sees no less than that. Log10, smoothly limited.
double AboveToe(double log10_exposure) {
  constexpr double kToe = -1.7, kWidth = 0.15;
  const double x = (log10_exposure - kToe) / kWidth;
  return kToe + kWidth * (x > 30 ? x : std::log1p(std::exp(x)));
}

// Median, and 1.4826 times the median absolute deviation. Reorders `v`.
std::pair<double, double> MedianAndSpread(std::vector<double>& v) {
  const double m = Median(v);
  for (double& x : v) x = std::abs(x - m);
  return {m, 1.4826 * Median(v)};
}

// log10 of light reaching a pixel by shutter, aperture and sensitivity; empty where one is not written.
std::optional<double> ExifExposure(const record::Capture& c) {
  if (!c.exposure_time_s || !c.aperture || !c.iso) return std::nullopt;
  const double v = *c.exposure_time_s * *c.iso / (*c.aperture * *c.aperture);
  if (!(v > 0) || !std::isfinite(v)) return std::nullopt;
  return std::log10(v);
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

struct Frame {
  const Photo* photo = nullptr;
  LightId light;
  std::string source;
  bool display = false;
  double place = 0;          // in its light in time: -1 first, 1 last
  Mat3 matrix = kIdentity3;  // white of the light, then source relation
  look::ToneCurve tone;
  std::vector<double> tone_in, tone_out;
  Vec3 gain_log10{0, 0, 0};
  double exposure_log10 = 0;
  bool tied = false;     // places in it were matched to another frame
  bool related = false;  // its source was fitted on places matched to the reference
  OwnDoubt doubt;

  Vec3 Apply(const float rgb[3]) const {
    Vec3 x{rgb[0], rgb[1], rgb[2]};
    if (display && !tone.empty())
      for (double& v : x) v = std::pow(10.0, tone(LogPositive(v)));
    x = Mul(matrix, x);
    for (int c = 0; c < 3; ++c) x[c] *= std::pow(10.0, gain_log10[c] + exposure_log10);
    return x;
  }
};

class Unifier {
 public:
  explicit Unifier(const Request& request) : request_(request) {
    std::unordered_map<PhotoId, LightId> light_of;
    std::unordered_map<PhotoId, double> place;
    for (const record::Light& light : request.lights)
      for (std::size_t i = 0; i < light.frames.size(); ++i) {
        light_of[light.frames[i]] = light.id;
        if (light.frames.size() > 1)
          place[light.frames[i]] =
              2.0 * static_cast<double>(i) / static_cast<double>(light.frames.size() - 1) - 1;
      }
    for (const Photo& photo : request.photos) {
      if (photo.role != record::Role::kFrame) continue;
      Frame f;
      f.photo = &photo;
      f.light = light_of.contains(photo.id) ? light_of[photo.id] : LightId{};
      f.place = place[photo.id];
      f.source = record::SourceName(photo);
      f.display = photo.encoding != Encoding::kRaw;
      index_[photo.id] = static_cast<int>(frames_.size());
      frames_.push_back(std::move(f));
    }
  }

  Unification Run() {
    ChooseReference();
    OneWhitePerLight();
    for (Frame& f : frames_) {
      if (!f.display) continue;
      const SourceRelation prior = PriorRelation(true, 0);
      SetTone(f, prior);
    }
    SolveExposures();
    RelateSources();
    SolveExposures();
    EvenDisplayColour();
    DoubtUntiedFrames();
    return Collect();
  }

 private:
  void SetTone(Frame& f, const SourceRelation& relation) {
    f.tone_in = relation.tone_in;
    f.tone_out = relation.tone_out;
    f.tone = look::ToneCurve(f.tone_in, f.tone_out);
  }

  // The raw source with most frames, or the source with most frames.
  void ChooseReference() {
    std::map<std::string, std::pair<int, bool>> count;
    for (const Frame& f : frames_) {
      ++count[f.source].first;
      count[f.source].second = !f.display;
    }
    std::pair<bool, int> best{false, -1};
    for (const auto& [name, c] : count)
      if (std::pair<bool, int>{c.second, c.first} > best) {
        best = {c.second, c.first};
        reference_ = name;
      }
  }

  // The white of a light is the log-mean of the as-shot whites of its raw frames, per body, and so is the
  // camera's matrix, which was mixed for each frame's own white: two frames of one light that the camera
  // balanced differently become the same.
  void OneWhitePerLight() {
    struct Sum {
      Vec3 log_white{0, 0, 0};
      Mat3 matrix{};
      int frames = 0;
    };
    std::map<std::pair<LightId, std::string>, Sum> sums;
    for (const Frame& f : frames_) {
      if (f.display) continue;
      Sum& sum = sums[{f.light, f.source}];
      for (int c = 0; c < 3; ++c) {
        sum.log_white[c] += std::log(f.photo->raw.as_shot[c]);
        for (int k = 0; k < 3; ++k) sum.matrix[c][k] += f.photo->raw.rec2020_from_camera[c][k];
      }
      ++sum.frames;
    }
    for (Frame& f : frames_) {
      if (f.display) continue;
      const Sum& sum = sums[{f.light, f.source}];
      Vec3 gain;
      Mat3 common = sum.matrix;
      for (int c = 0; c < 3; ++c) {
        gain[c] = std::exp(sum.log_white[c] / sum.frames) / f.photo->raw.as_shot[c];
        for (double& v : common[c]) v /= sum.frames;
      }
      f.matrix = Mul(Mul(common, Diagonal(gain)), Inverse(f.photo->raw.rec2020_from_camera));
    }
  }

  // Exposure of every frame by one robust linear solve over the session. The unknown of a frame is how far it
  // departs from what its exposure data (t S / N^2) says; display-referred sources, and frames of a light
  // without exposure data, depart by a common unknown of their own, since their levels are not those of a
  // sensor.
  void SolveExposures() {
    const int count = static_cast<int>(frames_.size());
    std::vector<double> exif(frames_.size());
    std::vector<GraphPrior> priors(frames_.size());
    std::vector<GraphEdge> edges;
    std::map<std::string, int> common;  // node of a source's or light's own constant
    for (int i = 0; i < count; ++i) {
      Frame& f = frames_[i];
      f.exposure_log10 = 0;
      const auto x = ExifExposure(f.photo->capture);
      exif[i] = x ? *x : LevelOf(f);
      if (x && !f.display) {
        priors[i] = {0, exif_sigma_};
        continue;
      }
      std::string key = f.source;
      if (!x) key += " light " + std::to_string(f.light.value);
      const auto [node, fresh] = common.emplace(key, count + static_cast<int>(common.size()));
      if (fresh) priors.push_back({0, kConstantSigma});
      priors[i] = {0, kFreeSigma};
      edges.push_back({node->second, i, 0, x ? 1.4 * exif_sigma_ : kLevelSigma});
    }
    for (const record::Correspondence& c : request_.frame_to_frame) {
      const auto a = index_.find(c.a), b = index_.find(c.b);
      if (a == index_.end() || b == index_.end()) continue;
      const Frame &fa = frames_[a->second], &fb = frames_[b->second];
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
    DoubtOfExposures(priors, edges, departure);
    LearnExifSigma(departure, edges);
    // Mean correction of a light's frames is zero, so that unified frames stay near the camera's own levels.
    std::map<LightId, std::pair<double, int>> mean;
    for (int i = 0; i < count; ++i) {
      frames_[i].exposure_log10 = departure[i] - exif[i];
      auto& [sum, n] = mean[frames_[i].light];
      sum += frames_[i].exposure_log10;
      ++n;
    }
    for (Frame& f : frames_) f.exposure_log10 -= mean[f.light].first / mean[f.light].second;
  }

  std::vector<int> LightNumbers() const {
    std::map<LightId, int> number;
    std::vector<int> light;
    for (const Frame& f : frames_)
      light.push_back(number.emplace(f.light, static_cast<int>(number.size())).first->second);
    return light;
  }

  void DoubtOfExposures(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges,
                        const std::vector<double>& departure) {
    const std::vector<double> spread = SpreadInGroup(priors, edges, departure, LightNumbers());
    for (std::size_t i = 0; i < frames_.size(); ++i) {
      // The tone curve of a camera JPEG is undone as well as its source is known.
      frames_[i].doubt.level =
          std::hypot(spread[i], frames_[i].display ? (frames_[i].related ? kTone : kGuessedTone) : 0);
      frames_[i].tied = false;
    }
    for (const GraphEdge& e : edges)
      for (const int i : {e.a, e.b})
        if (e.a < static_cast<int>(frames_.size()) && i < static_cast<int>(frames_.size()))
          frames_[i].tied = true;
  }

  // Exposure data is all that holds a frame that no place ties to another. Where its picture is far darker or
  // lighter than what its light usually shows, the data may be as wrong as that.
  void DoubtUntiedFrames() {
    std::map<LightId, std::vector<std::pair<Frame*, double>>> by_light;
    for (Frame& f : frames_)
      if (const std::optional<Content> content = ContentOf(f, {0, 0, 0}))
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

  // How far exposure data can be trusted in this session (empirical Bayes): from what matched cells make of
  // the raw frames' departures from it. Used by the next solve.
  void LearnExifSigma(const std::vector<double>& departure, const std::vector<GraphEdge>& edges) {
    std::vector<int> matched(frames_.size(), 0);
    for (const GraphEdge& e : edges)
      for (const int i : {e.a, e.b})
        if (i < static_cast<int>(frames_.size())) ++matched[static_cast<std::size_t>(i)];
    std::map<LightId, std::vector<double>> by_light;
    for (std::size_t i = 0; i < frames_.size(); ++i)
      if (!frames_[i].display && matched[i] >= 2 && ExifExposure(frames_[i].photo->capture))
        by_light[frames_[i].light].push_back(departure[i]);
    std::vector<double> away;
    for (auto& [light, d] : by_light) {
      if (d.size() < 3) continue;
      const double middle = Median(d);
      for (double v : d) away.push_back(std::abs(v - middle));
    }
    if (away.empty()) return;
    const double count = static_cast<double>(away.size()), seen = 1.4826 * Median(away);
    exif_sigma_ = std::max(kLeastExifSigma,
                           std::sqrt((count * seen * seen + kExifSigmaCounts * kExifSigma * kExifSigma) /
                                     (count + kExifSigmaCounts)));
  }

  // log10 of the frame's median level, scene-linear as far as its tone is known.
  double LevelOf(const Frame& f) const {
    const auto m = request_.measured.find(f.photo->id);
    const double level =
        m == request_.measured.end() ? look::kLogMidGrey : m->second.light.log2_level * look::kLog10Of2;
    return f.display && !f.tone.empty() ? f.tone(level) : level;
  }

  static std::vector<record::Cell> Thinned(const record::Correspondence& c) {
    if (c.cells.size() <= kCellsPerEdge) return c.cells;
    std::vector<record::Cell> out;
    const double step = static_cast<double>(c.cells.size()) / kCellsPerEdge;
    for (std::size_t i = 0; i < kCellsPerEdge; ++i)
      out.push_back(c.cells[static_cast<std::size_t>(i * step)]);
    return out;
  }

  void RelateSources() {
    std::map<std::string, std::vector<int>> by_source;
    for (int i = 0; i < static_cast<int>(frames_.size()); ++i) by_source[frames_[i].source].push_back(i);
    // Scene-referred sources first, so that a JPEG may learn from every related raw frame.
    std::vector<std::string> order;
    for (const auto& [source, list] : by_source)
      if (source != reference_) order.push_back(source);
    std::stable_sort(order.begin(), order.end(), [&](const std::string& a, const std::string& b) {
      return frames_[by_source[a].front()].display < frames_[by_source[b].front()].display;
    });
    std::vector<std::string> related = {reference_};
    for (const std::string& source : order) {
      RelateSource(source, by_source[source], related);
      related.push_back(source);
    }
  }

  // Fits a source on cells matched to frames of related ones; one group of gains per frame of
  // display-referred sources, per light otherwise.
  void RelateSource(const std::string& source, const std::vector<int>& list,
                    const std::vector<std::string>& related) {
    const bool display = frames_[list.front()].display;
    std::map<LightId, int> light_group;
    std::unordered_map<int, int> group;
    for (int i : list) {
      if (display)
        group[i] = static_cast<int>(group.size());
      else
        group[i] = light_group.emplace(frames_[i].light, static_cast<int>(light_group.size())).first->second;
    }
    const int groups = display ? static_cast<int>(list.size()) : static_cast<int>(light_group.size());
    std::vector<RelationSample> samples;
    const auto is_related = [&](const Frame& f) {
      return std::find(related.begin(), related.end(), f.source) != related.end() &&
             (!f.display || reference_ == f.source);
    };
    for (const record::Correspondence& c : request_.frame_to_frame) {
      const auto a = index_.find(c.a), b = index_.find(c.b);
      if (a == index_.end() || b == index_.end()) continue;
      const Frame &fa = frames_[a->second], &fb = frames_[b->second];
      const bool a_is_source = fa.source == source && is_related(fb);
      const bool b_is_source = fb.source == source && is_related(fa);
      if (a_is_source == b_is_source || fa.light != fb.light) continue;
      const Frame& mine = a_is_source ? fa : fb;
      const Frame& other = a_is_source ? fb : fa;
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
      notes_.push_back("No frames of " + source + " were matched to " + reference_ +
                       "; a typical rendering is assumed for it.");
    for (int i : list) {
      Frame& f = frames_[i];
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

  // Camera JPEGs carry their own white per frame: their colour gains are solved on the graph, raw frames
  // held.
  void EvenDisplayColour() {
    std::vector<int> list;
    for (int i = 0; i < static_cast<int>(frames_.size()); ++i)
      if (frames_[i].display) list.push_back(i);
    if (list.empty()) return;
    const std::vector<int> light = LightNumbers();
    for (int channel : {0, 2}) {  // red and blue against green
      std::vector<GraphPrior> priors(frames_.size());
      for (std::size_t k = 0; k < frames_.size(); ++k) priors[k] = {0, frames_[k].display ? 0.06 : 1e-4};
      std::vector<GraphEdge> edges;
      for (const record::Correspondence& c : request_.frame_to_frame) {
        const auto a = index_.find(c.a), b = index_.find(c.b);
        if (a == index_.end() || b == index_.end()) continue;
        const Frame &fa = frames_[a->second], &fb = frames_[b->second];
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
        Frame& f = frames_[static_cast<std::size_t>(i)];
        f.gain_log10[channel] += g[static_cast<std::size_t>(i)];
        const double own = std::hypot(spread[static_cast<std::size_t>(i)], f.related ? 0 : kGuessedColour);
        f.doubt.colour = std::max(f.doubt.colour, own);
      }
    }
  }

  Unification Collect() {
    Unification u;
    u.notes = notes_;
    u.reference = reference_;
    u.loose = LooseFrames();
    std::map<LightId, LevelSum> sums;
    const std::map<LightId, Vec3> casts = CastsOfLights();
    for (const Frame& f : frames_) {
      record::Unify unify;
      unify.display_referred = f.display;
      unify.tone_in = f.tone_in;
      unify.tone_out = f.tone_out;
      Vec3 gain;
      for (int c = 0; c < 3; ++c) gain[c] = std::pow(10.0, f.gain_log10[c]);
      unify.matrix = Mul(Diagonal(gain), f.matrix);
      unify.exposure_log10 = f.exposure_log10;
      u.frames[f.photo->id] = std::move(unify);
      u.light_of[f.photo->id] = f.light;
      u.place[f.photo->id] = f.place;
      u.doubt[f.photo->id] = f.doubt;
      LevelSum& s = sums[f.light];
      if (const auto x = ExifExposure(f.photo->capture)) s.brightness.push_back(-*x);
      if (const std::optional<Vec3> skin = SkinOf(f)) {
        for (int c = 0; c < 3; ++c) s.skin[c] += LogPositive((*skin)[c]);
        ++s.skins;
      }
      if (const std::optional<Content> content = ContentOf(f, CastOf(casts, f.light))) {
        u.content[f.photo->id] = *content;
        s.level += content->level_log10;
        for (int c = 0; c < 3; ++c) s.colour[c] += content->grey_log10[c];
        ++s.frames;
      }
    }
    for (auto& [light, s] : sums) {
      LightState state;
      if (!s.brightness.empty()) state.brightness_log10 = Median(s.brightness);
      state.frames = s.frames;
      state.drift = DriftOf(light);
      const double n = std::max(1, s.frames);
      state.level_log10 = s.frames > 0 ? s.level / n : record::kUsualLevel;
      for (int c = 0; c < 3; ++c) state.grey_log10[c] = s.colour[c] / n;
      state.cast_log10 = CastOf(casts, light);
      if (s.skins > 0) {
        state.skin.emplace();
        for (int c = 0; c < 3; ++c) (*state.skin)[c] = std::pow(10.0, s.skin[c] / s.skins);
      }
      u.lights[light] = state;
    }
    return u;
  }

  // Colours of the lights against daylight by the as-shot whites of their raw frames, log10, mean 0.
  std::map<LightId, Vec3> CastsOfLights() const {
    std::map<LightId, Vec3> casts;
    std::map<LightId, int> frames;
    for (const Frame& f : frames_) {
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
  static Vec3 CastOf(const std::map<LightId, Vec3>& casts, LightId light) {
    const auto at = casts.find(light);
    return at == casts.end() ? Vec3{0, 0, 0} : at->second;
  }

  std::unordered_map<PhotoId, int> LooseFrames() const {
    Groups linked(static_cast<int>(frames_.size()));
    for (const record::Correspondence& c : request_.frame_to_frame) {
      const auto a = index_.find(c.a), b = index_.find(c.b);
      if (a == index_.end() || b == index_.end()) continue;
      if (frames_[a->second].light == frames_[b->second].light) linked.Join(b->second, a->second);
    }
    std::set<int> tied;
    for (int i = 0; i < static_cast<int>(frames_.size()); ++i)
      if (!frames_[i].display) tied.insert(linked.Of(i));
    std::unordered_map<PhotoId, int> loose;
    if (!tied.empty())  // else there is nothing to be tied to
      for (int i = 0; i < static_cast<int>(frames_.size()); ++i)
        if (!tied.contains(linked.Of(i))) loose[frames_[i].photo->id] = linked.Of(i);
    return loose;
  }

  // How the light itself changes over its frames, by the cameras' whites and exposure data: robust slopes
  // from its middle to its end, less what chance would give.
  LightDrift DriftOf(LightId light) const {
    std::array<std::vector<std::pair<double, double>>, 3>
        seen;  // place, value; red, blue against green; brightness
    for (const Frame& f : frames_) {
      if (f.light != light) continue;
      if (const auto x = ExifExposure(f.photo->capture)) seen[2].emplace_back(f.place, -*x);
      if (f.display) continue;
      const LightColour colour = ColourOfLight(f.photo->raw);
      seen[0].emplace_back(f.place, colour.red);
      seen[1].emplace_back(f.place, colour.blue);
    }
    return {std::abs(SureSlope(seen[2])),
            std::max(std::abs(SureSlope(seen[0])), std::abs(SureSlope(seen[1])))};
  }

  // Theil-Sen slope (Sen 1968) where it is more than twice its error by chance, else 0.
  static double SureSlope(const std::vector<std::pair<double, double>>& seen) {
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

  struct LevelSum {
    double level = 0;
    Vec3 colour{0, 0, 0};
    std::vector<double> brightness;
    int frames = 0;
    Vec3 skin{0, 0, 0};
    int skins = 0;
  };

  // Median of a raw frame's skin where it shows enough; a camera JPEG's has the camera's own idea of skin.
  std::optional<Vec3> SkinOf(const Frame& f) const {
    constexpr double kEnough = 0.005;
    const auto it = request_.measured.find(f.photo->id);
    if (f.display || it == request_.measured.end()) return std::nullopt;
    for (const record::RegionStat& r : it->second.regions) {
      if (r.kind != record::RegionKind::kSkin || r.face >= 0 || r.area < kEnough) continue;
      const Vec3& q = r.quantiles[2];
      const float rgb[3] = {static_cast<float>(q[0]), static_cast<float>(q[1]), static_cast<float>(q[2])};
      return f.Apply(rgb);
    }
    return std::nullopt;
  }

  // Log level and colour of a frame from its regions, weighted by area, as a lab's machine averages the
  // densities of the three layers: each layer sees the light's own colour (film has one white), and ends in
  // its toe.
  std::optional<Content> ContentOf(const Frame& f, const Vec3& cast) const {
    const auto it = request_.measured.find(f.photo->id);
    if (it == request_.measured.end()) return std::nullopt;
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

  const Request& request_;
  std::vector<Frame> frames_;
  std::unordered_map<PhotoId, int> index_;
  std::string reference_;
  double exif_sigma_ = kExifSigma;
  std::vector<std::string> notes_;
};

}  // namespace

Unification UnifyFrames(const Request& request) { return Unifier(request).Run(); }

}  // namespace samelight::solve
