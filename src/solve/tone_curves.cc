#include "solve/tone_curves.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/median.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "solve/region_samples.h"

namespace samelight::solve {
namespace {

constexpr double kLeastEv = -6, kMostEv = 4;
constexpr int kPoints = 81;
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
constexpr double kBlackest = 1e-4;  // density 4: below what any print or screen holds
constexpr std::size_t kFewestInBin = 5, kFewestBins = 4;
constexpr double kBinEv = 0.5;

double Density(const Vec3& display) {
  return -std::log10(std::max(kBlackest, color::LuminanceRec2020(display)));
}
double Ev(double scene) { return std::log2(std::max(scene, 1e-9) / look::kMidGrey); }

// Points (x, y), x ascending, as values over `at`; NaN outside.
std::vector<double> Over(const std::vector<double>& at, const std::vector<double>& x,
                         const std::vector<double>& y) {
  std::vector<double> out;
  for (const double v : at) {
    if (x.size() < 2 || v < x.front() || v > x.back()) {
      out.push_back(kNone);
      continue;
    }
    const auto next = std::upper_bound(x.begin(), x.end(), v);
    const auto i = std::min<std::size_t>(x.size() - 1, static_cast<std::size_t>(next - x.begin()));
    const double step = x[i] - x[i - 1];
    out.push_back(step > 0 ? y[i - 1] + (v - x[i - 1]) / step * (y[i] - y[i - 1]) : y[i]);
  }
  return out;
}

std::vector<double> CurveOf(const look::Resolved& resolved, const std::vector<double>& ev) {
  std::vector<double> density;
  for (const double e : ev) {
    const double v = look::kMidGrey * std::exp2(e);
    density.push_back(Density(look::EvaluateUnified(resolved, {v, v, v})));
  }
  return density;
}

// The camera's rendering over the exposure that the same pixel has on the unified scale.
std::vector<double> Before(const record::Correction& correction, const record::Photo& frame,
                           double log2_level, const std::vector<double>& ev) {
  record::Correction untouched = correction;
  untouched.touch = {};
  const look::Resolved unified = look::Resolve(untouched);
  const bool raw = frame.encoding == record::Encoding::kRaw;
  const look::Resolved camera = raw ? look::Resolve(CameraRendering(frame, log2_level)) : look::Resolved{};
  std::vector<double> x, y;
  for (int i = 0; i <= 160; ++i) {
    const double p = std::exp2(-16 + i * 0.125 + (raw ? 2 : -4));
    if (!raw && p > 1) break;
    const double at = Ev(color::LuminanceRec2020(look::Unified(unified, {p, p, p})));
    if (!x.empty() && at <= x.back()) continue;
    x.push_back(at);
    y.push_back(raw ? Density(look::Evaluate(camera, {p, p, p})) : -std::log10(std::max(kBlackest, p)));
  }
  return Over(ev, x, y);
}

// Medians of the scan's density over the frame's exposure, made monotone by pooling neighbours that run the
// wrong way (Barlow and others 1972).
bool Measured(const record::Correspondence& matched, const look::Resolved& unified,
              const std::vector<double>& ev, std::vector<double>& out) {
  std::vector<std::vector<double>> exposure(static_cast<std::size_t>((kMostEv - kLeastEv) / kBinEv)),
      density(exposure.size());
  for (const record::Cell& cell : matched.cells) {
    const double e =
        Ev(color::LuminanceRec2020(look::Unified(unified, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]})));
    const double d = Density({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]});
    if (!(e >= kLeastEv && e < kMostEv) || !std::isfinite(d)) continue;
    const auto bin = std::min(exposure.size() - 1, static_cast<std::size_t>((e - kLeastEv) / kBinEv));
    exposure[bin].push_back(e);
    density[bin].push_back(d);
  }
  struct Pool {
    double x, y, weight;
  };
  std::vector<Pool> pools;
  std::size_t bins = 0;
  for (std::size_t i = 0; i < exposure.size(); ++i) {
    if (exposure[i].size() < kFewestInBin) continue;
    ++bins;
    const double weight = static_cast<double>(exposure[i].size());
    pools.push_back({Median(exposure[i]), Median(density[i]), weight});
    while (pools.size() > 1 && pools.back().y > pools[pools.size() - 2].y) {
      const Pool last = pools.back();
      pools.pop_back();
      Pool& p = pools.back();
      const double sum = p.weight + last.weight;
      p = {(p.x * p.weight + last.x * last.weight) / sum, (p.y * p.weight + last.y * last.weight) / sum, sum};
    }
  }
  if (bins < kFewestBins || pools.size() < 2) return false;
  std::vector<double> x, y;
  for (const Pool& p : pools) {
    x.push_back(p.x);
    y.push_back(p.y);
  }
  out = Over(ev, x, y);
  return true;
}

}  // namespace

ToneCurves ToneOf(const record::Correction& correction, const record::Photo& frame, double log2_level,
                  const record::Correspondence* matched, bool film) {
  ToneCurves tone;
  for (int i = 0; i < kPoints; ++i) tone.ev.push_back(kLeastEv + (kMostEv - kLeastEv) * i / (kPoints - 1));
  const look::Resolved resolved = look::Resolve(correction);
  tone.frame = CurveOf(resolved, tone.ev);
  tone.before = Before(correction, frame, log2_level, tone.ev);
  record::Correction full = correction;
  full.touch = {};
  full.follow = full.follow_skin = 1;
  full.follow_foliage = full.follow_sky = -1;
  const look::Resolved match = look::Resolve(full);
  tone.scan_measured = matched != nullptr && Measured(*matched, match, tone.ev, tone.scan);
  if (!tone.scan_measured && film) tone.scan = CurveOf(match, tone.ev);

  // A curve bends where the straight part meets its floor or ceiling: at in = (limit - log mid) / gamma + log
  // mid. The shoulder is taken hold of a little beyond, where a quarter of the slope is left (ln 3 of its
  // width), clear of gamma.
  const look::LayerOf<double>& layer = resolved.look.layer[1];
  const auto exposure_at = [&](double log_out) {
    return ((log_out - look::kLogMidGrey) / layer.gamma - resolved.offset_log10[1]) / look::kLog10Of2;
  };
  const auto grip = [&](record::Handle handle, double ev) {
    const double within = std::clamp(ev, kLeastEv, kMostEv), v = look::kMidGrey * std::exp2(within);
    tone.grips.push_back({handle, within, Density(look::EvaluateUnified(resolved, {v, v, v}))});
  };
  grip(record::Handle::kToe, exposure_at(layer.floor));
  grip(record::Handle::kGamma, 0);
  grip(record::Handle::kShoulder, exposure_at(layer.ceiling + 1.0986 * layer.shoulder));
  return tone;
}

}  // namespace samelight::solve
