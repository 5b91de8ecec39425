#include "solve/unify.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "look/evaluate.h"
#include "solve/graph.h"
#include "solve/source_relation.h"

namespace samelight::solve {
namespace {

using record::Encoding;
using record::Photo;

constexpr double kExifSigma = 0.12;  // log10; a stop is 0.30. Metering and light change from moment to moment
constexpr double kLevelSigma = 0.35;  // log10; where no exposure data is written
constexpr double kEdgeFloor = 0.015;  // log10; best agreement of one edge
constexpr std::size_t kCellsPerEdge = 60;
constexpr std::size_t kMostRelationSamples = 6000;

double Luminance(const Vec3& rgb) { return 0.2627 * rgb[0] + 0.6780 * rgb[1] + 0.0593 * rgb[2]; }
double LogPositive(double v) { return std::log10(look::PositiveExposure(v)); }

double Median(std::vector<double>& v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// log10 of light reaching a pixel by shutter, aperture and sensitivity; empty where one is not written.
std::optional<double> ExifExposure(const record::Capture& c) {
  if (!c.exposure_time_s || !c.aperture || !c.iso) return std::nullopt;
  const double v = *c.exposure_time_s * *c.iso / (*c.aperture * *c.aperture);
  if (!(v > 0) || !std::isfinite(v)) return std::nullopt;
  return std::log10(v);
}

struct Frame {
  const Photo* photo = nullptr;
  LightId light;
  std::string source;
  bool display = false;
  Mat3 matrix = kIdentity3;  // white of the light, then source relation
  look::ToneCurve tone;
  std::vector<double> tone_in, tone_out;
  Vec3 gain_log10{0, 0, 0};
  double exposure_log10 = 0;

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
    for (const record::Light& light : request.lights)
      for (PhotoId id : light.frames) light_of[id] = light.id;
    for (const Photo& photo : request.photos) {
      if (photo.role != record::Role::kFrame) continue;
      Frame f;
      f.photo = &photo;
      f.light = light_of.contains(photo.id) ? light_of[photo.id] : LightId{};
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

  // The white of a light is the log-mean of the as-shot whites of its raw frames, per body.
  void OneWhitePerLight() {
    std::map<std::pair<LightId, std::string>, std::pair<Vec3, int>> sums;
    for (const Frame& f : frames_) {
      if (f.display) continue;
      auto& [sum, n] = sums[{f.light, f.source}];
      for (int c = 0; c < 3; ++c) sum[c] += std::log(f.photo->raw.as_shot[c]);
      ++n;
    }
    for (Frame& f : frames_) {
      if (f.display) continue;
      const auto& [sum, n] = sums[{f.light, f.source}];
      Vec3 gain;
      for (int c = 0; c < 3; ++c) gain[c] = std::exp(sum[c] / n) / f.photo->raw.as_shot[c];
      const Mat3& r = f.photo->raw.rec2020_from_camera;
      f.matrix = Mul(Mul(r, Diagonal(gain)), Inverse(r));
    }
  }

  // Exposure of every frame: one robust linear solve per light.
  void SolveExposures() {
    std::map<LightId, std::vector<int>> members;
    for (int i = 0; i < static_cast<int>(frames_.size()); ++i) members[frames_[i].light].push_back(i);
    for (Frame& f : frames_) f.exposure_log10 = 0;
    for (const auto& [light, list] : members) {
      std::unordered_map<int, int> node;
      for (std::size_t k = 0; k < list.size(); ++k) node[list[k]] = static_cast<int>(k);
      const std::vector<GraphPrior> priors = ExposurePriors(list);
      std::vector<GraphEdge> edges;
      for (const record::Correspondence& c : request_.frame_to_frame) {
        const auto a = index_.find(c.a), b = index_.find(c.b);
        if (a == index_.end() || b == index_.end()) continue;
        if (!node.contains(a->second) || !node.contains(b->second)) continue;
        const Frame &fa = frames_[a->second], &fb = frames_[b->second];
        std::vector<double> ratio;
        for (const record::Cell& cell : Thinned(c)) {
          const double ya = Luminance(fa.Apply(cell.a_rgb)), yb = Luminance(fb.Apply(cell.b_rgb));
          ratio.push_back(LogPositive(ya) - LogPositive(yb));
        }
        if (ratio.size() < 8) continue;
        const double m = Median(ratio);
        for (double& r : ratio) r = std::abs(r - m);
        const double spread = 1.4826 * Median(ratio);
        double sigma = kEdgeFloor + spread / std::sqrt(static_cast<double>(ratio.size()));
        if (fa.display != fb.display) sigma += 0.02;
        // value is the exposure to add: ya * 10^ea = yb * 10^eb.
        edges.push_back({node[a->second], node[b->second], m, sigma});
      }
      const std::vector<double> e = SolveGraph(priors, edges);
      for (std::size_t k = 0; k < list.size(); ++k) frames_[list[k]].exposure_log10 = e[k];
    }
  }

  // Mean of the priors is zero over the light, so unified frames stay near the camera's own levels.
  std::vector<GraphPrior> ExposurePriors(const std::vector<int>& list) const {
    // Frames with exposure data: -log10(t S / N^2). Display-referred sources get a constant of their own from
    // their levels.
    std::vector<GraphPrior> priors(list.size());
    std::vector<double> level(list.size());
    for (std::size_t k = 0; k < list.size(); ++k) {
      const Frame& f = frames_[list[k]];
      const auto measured = request_.measured.find(f.photo->id);
      level[k] = measured == request_.measured.end() ? std::log10(look::kMidGrey)
                                                     : measured->second.light.log2_level * 0.30102999566;
      if (f.display && !f.tone.empty()) level[k] = f.tone(level[k]);
    }
    // Constant of each source: median over its frames of level - exif, so that exif + constant predicts the
    // level.
    std::map<std::string, std::vector<double>> offsets;
    for (std::size_t k = 0; k < list.size(); ++k)
      if (const auto x = ExifExposure(frames_[list[k]].photo->capture))
        offsets[frames_[list[k]].source].push_back(level[k] - *x);
    std::map<std::string, double> constant;
    for (auto& [source, v] : offsets) constant[source] = Median(v);
    // Raw sources share one calibration (ISO 12232 speeds); their constants are replaced by the common
    // median.
    std::vector<double> raw;
    for (std::size_t k = 0; k < list.size(); ++k)
      if (!frames_[list[k]].display)
        if (const auto x = ExifExposure(frames_[list[k]].photo->capture)) raw.push_back(level[k] - *x);
    const double raw_constant = raw.empty() ? 0 : Median(raw);
    double mean = 0;
    for (std::size_t k = 0; k < list.size(); ++k) {
      const Frame& f = frames_[list[k]];
      const auto x = ExifExposure(f.photo->capture);
      if (x) {
        const double base = f.display ? constant[f.source] : raw_constant;
        priors[k] = {-(*x + base), f.display ? 1.6 * kExifSigma : kExifSigma};
      } else {
        priors[k] = {-level[k], kLevelSigma};
      }
      mean += priors[k].mean;
    }
    mean /= static_cast<double>(list.size());
    for (GraphPrior& p : priors) p.mean -= mean;
    return priors;
  }

  static std::vector<record::Cell> Thinned(const record::Correspondence& c) {
    if (c.cells.size() <= kCellsPerEdge) return c.cells;
    std::vector<record::Cell> out;
    const double step = static_cast<double>(c.cells.size()) / kCellsPerEdge;
    for (std::size_t i = 0; i < kCellsPerEdge; ++i)
      out.push_back(c.cells[static_cast<std::size_t>(i * step)]);
    return out;
  }

  // Samples of `source` against reference frames; group by frame for display-referred sources, by light
  // otherwise.
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
    std::unordered_map<int, int> node;
    for (std::size_t k = 0; k < frames_.size(); ++k) node[static_cast<int>(k)] = static_cast<int>(k);
    for (int channel : {0, 2}) {  // red and blue against green
      std::vector<GraphPrior> priors(frames_.size());
      for (std::size_t k = 0; k < frames_.size(); ++k) priors[k] = {0, frames_[k].display ? 0.06 : 1e-4};
      std::vector<GraphEdge> edges;
      for (const record::Correspondence& c : request_.frame_to_frame) {
        const auto a = index_.find(c.a), b = index_.find(c.b);
        if (a == index_.end() || b == index_.end()) continue;
        const Frame &fa = frames_[a->second], &fb = frames_[b->second];
        if (fa.light != fb.light || (!fa.display && !fb.display)) continue;
        std::vector<double> ratio;
        for (const record::Cell& cell : Thinned(c)) {
          const Vec3 xa = fa.Apply(cell.a_rgb), xb = fb.Apply(cell.b_rgb);
          ratio.push_back(LogPositive(xa[channel]) - LogPositive(xa[1]) - LogPositive(xb[channel]) +
                          LogPositive(xb[1]));
        }
        if (ratio.size() < 8) continue;
        const double m = Median(ratio);
        for (double& r : ratio) r = std::abs(r - m);
        const double sigma =
            kEdgeFloor + 1.4826 * Median(ratio) / std::sqrt(static_cast<double>(ratio.size()));
        edges.push_back({a->second, b->second, m, sigma});
      }
      const std::vector<double> g = SolveGraph(priors, edges);
      for (int i : list) frames_[i].gain_log10[channel] += g[static_cast<std::size_t>(i)];
    }
  }

  Unification Collect() {
    Unification u;
    u.reference_source = reference_;
    u.notes = notes_;
    std::map<LightId, std::array<double, 7>> sums;  // level, grey 3, count, ...
    std::map<LightId, std::pair<Vec3, int>> casts;
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
      AddToLight(f, sums[f.light]);
      if (!f.display) {
        // A daylight grey as this light's white balance shows it, inverted: the light's colour against
        // daylight.
        const record::RawColour& raw = f.photo->raw;
        Vec3 camera;
        for (int c = 0; c < 3; ++c) camera[c] = raw.daylight[c] / raw.as_shot[c];
        const Vec3 rgb = Mul(raw.rec2020_from_camera, camera);
        auto& [sum, n] = casts[f.light];
        for (int c = 0; c < 3; ++c) sum[c] += LogPositive(rgb[c]);
        ++n;
      }
    }
    for (const auto& [light, s] : sums) {
      LightState state;
      const double n = std::max(1.0, s[4]);
      state.level_log10 = s[0] / n;
      const double mean = (s[1] + s[2] + s[3]) / (3 * n);
      for (int c = 0; c < 3; ++c) state.grey_log10[c] = s[1 + c] / n - mean;
      if (const auto cast = casts.find(light); cast != casts.end() && cast->second.second > 0) {
        Vec3 v = cast->second.first;
        const double m = (v[0] + v[1] + v[2]) / 3;
        for (int c = 0; c < 3; ++c) state.cast_log10[c] = (v[c] - m) / cast->second.second;
        state.has_cast = true;
      }
      u.lights[light] = state;
    }
    MeasureAgreement(u);
    return u;
  }

  // Log level and colour of a frame from the medians of its regions, weighted by area.
  void AddToLight(const Frame& f, std::array<double, 7>& s) const {
    const auto it = request_.measured.find(f.photo->id);
    if (it == request_.measured.end()) return;
    double area = 0, level = 0;
    Vec3 colour{0, 0, 0};
    for (const record::RegionStat& r : it->second.regions) {
      if (r.face >= 0 || r.area <= 0) continue;
      const float rgb[3] = {static_cast<float>(r.quantiles[2][0]), static_cast<float>(r.quantiles[2][1]),
                            static_cast<float>(r.quantiles[2][2])};
      const Vec3 x = f.Apply(rgb);
      area += r.area;
      level += r.area * LogPositive(Luminance(x));
      for (int c = 0; c < 3; ++c) colour[c] += r.area * LogPositive(x[c]);
    }
    if (area <= 0) return;
    s[0] += level / area;
    for (int c = 0; c < 3; ++c) s[1 + c] += colour[c] / area;
    s[4] += 1;
  }

  void MeasureAgreement(Unification& u) const {
    std::vector<double> all;
    for (const record::Correspondence& c : request_.frame_to_frame) {
      const auto a = index_.find(c.a), b = index_.find(c.b);
      if (a == index_.end() || b == index_.end()) continue;
      const Frame &fa = frames_[a->second], &fb = frames_[b->second];
      if (fa.light != fb.light) continue;
      for (const record::Cell& cell : Thinned(c)) {
        const Vec3 xa = fa.Apply(cell.a_rgb), xb = fb.Apply(cell.b_rgb);
        for (int k = 0; k < 3; ++k) all.push_back(std::abs(LogPositive(xa[k]) - LogPositive(xb[k])));
      }
    }
    u.cells = static_cast<long>(all.size());
    if (!all.empty()) u.median_error_log10 = Median(all);
  }

  const Request& request_;
  std::vector<Frame> frames_;
  std::unordered_map<PhotoId, int> index_;
  std::string reference_;
  std::vector<std::string> notes_;
};

}  // namespace

Unification UnifyFrames(const Request& request) { return Unifier(request).Run(); }

}  // namespace samelight::solve
