#include "render/grain.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

namespace samelight::render {
namespace {

using std::numbers::pi;

// Linear interpolation, constant beyond the ends.
double At(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (!(at > x.front())) return y.front();
  if (at >= x.back()) return y.back();
  const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
  const double f = (at - x[i - 1]) / (x[i] - x[i - 1]);
  return y[i - 1] + f * (y[i] - y[i - 1]);
}

double FilmPower(const record::GrainModel& m, double per_mm) {
  return per_mm > m.per_mm.back() ? 0 : At(m.per_mm, m.power, per_mm);
}

double Sinc(double x) { return std::abs(x) < 1e-9 ? 1 : std::sin(pi * x) / (pi * x); }

bool Ascending(const std::vector<double>& v) {
  for (std::size_t i = 0; i < v.size(); ++i)
    if (!std::isfinite(v[i]) || (i > 0 && v[i] <= v[i - 1])) return false;
  return !v.empty();
}
bool Positive(const std::vector<double>& v) {
  return std::all_of(v.begin(), v.end(), [](double x) { return std::isfinite(x) && x >= 0; });
}

// Frequencies at which spectra are compared: one quadrant of the pixel grid's unit cell.
constexpr int kGrid = 24;
double GridFrequency(int i) { return 0.5 * (i + 0.5) / kGrid; }

struct PowerGrid {
  std::vector<double> power;  // kGrid x kGrid
  double variance = 0;
};
PowerGrid MakeGrid(const record::GrainModel& model, double pitch_um) {
  PowerGrid g;
  for (int j = 0; j < kGrid; ++j)
    for (int i = 0; i < kGrid; ++i)
      g.power.push_back(PixelPower(model, pitch_um, GridFrequency(i), GridFrequency(j)));
  for (double p : g.power) g.variance += p / (kGrid * kGrid);
  return g;
}

// Gaussian taps; a sigma below 0.2 px is a single tap.
Taps GaussianTaps(double sigma) {
  Taps t;
  t.radius = sigma < 0.2 ? 0 : std::clamp(static_cast<int>(std::ceil(3 * sigma)), 1, kMostRadius);
  std::array<double, kMostRadius + 1> v{};
  double sum = 0;
  for (int k = 0; k <= t.radius; ++k) {
    // The integral over the tap, so that narrow ones keep their width.
    const double s = std::max(sigma, 1e-6) * std::numbers::sqrt2;
    v[k] = t.radius == 0 ? 1 : 0.5 * (std::erf((k + 0.5) / s) - std::erf((k - 0.5) / s));
    sum += (k == 0 ? 1 : 2) * v[k];
  }
  for (int k = 0; k <= t.radius; ++k)
    t.h[k] = static_cast<std::int16_t>(std::min(32767L, std::lround(32768 * v[k] / sum)));
  return t;
}

double Response(const Taps& t, double f) {
  double sum = t.h[0];
  for (int k = 1; k <= t.radius; ++k) sum += 2 * t.h[k] * std::cos(2 * pi * f * k);
  return sum / 32768;
}

std::array<double, kGrid> GridResponse(const Taps& t) {
  std::array<double, kGrid> r{};
  for (int i = 0; i < kGrid; ++i) r[i] = Response(t, GridFrequency(i));
  return r;
}

// Two isotropic kernels whose sum has the wanted amplitude spectrum: widths by search, strengths by least
// squares on the relative error, so that weak frequencies count as much as strong ones down to 20 dB.
void FitTerms(const PowerGrid& want, NoiseShape& shape) {
  const double peak = *std::max_element(want.power.begin(), want.power.end());
  std::vector<double> sigmas = {0};
  for (double s = 0.25; s <= 5.6; s *= 1.15) sigmas.push_back(s);
  std::vector<Taps> taps;
  std::vector<std::array<double, kGrid>> response;
  for (double s : sigmas) {
    taps.push_back(GaussianTaps(s));
    response.push_back(GridResponse(taps.back()));
  }
  double best = 1e300, a = 0, b = 0;
  std::size_t first = 0, second = 0;
  for (std::size_t m = 0; m < sigmas.size(); ++m)
    for (std::size_t n = m + 1; n < sigmas.size(); ++n) {
      double xx = 0, xy = 0, yy = 0, x1 = 0, y1 = 0;
      for (int j = 0; j < kGrid; ++j)
        for (int i = 0; i < kGrid; ++i) {
          const double p = want.power[j * kGrid + i], w = 1 / std::max(p, 0.01 * peak), amp = std::sqrt(p);
          const double x = response[m][i] * response[m][j], y = response[n][i] * response[n][j];
          xx += w * x * x;
          xy += w * x * y;
          yy += w * y * y;
          x1 += w * x * amp;
          y1 += w * y * amp;
        }
      const double det = xx * yy - xy * xy;
      if (!(det > 1e-9 * xx * yy)) continue;
      const double am = (x1 * yy - y1 * xy) / det, an = (y1 * xx - x1 * xy) / det;
      double error = 0;
      for (int j = 0; j < kGrid; ++j)
        for (int i = 0; i < kGrid; ++i) {
          const double p = want.power[j * kGrid + i], w = 1 / std::max(p, 0.01 * peak);
          const double off =
              am * response[m][i] * response[m][j] + an * response[n][i] * response[n][j] - std::sqrt(p);
          error += w * off * off;
        }
      if (error < best) {
        best = error;
        a = am;
        b = an;
        first = m;
        second = n;
      }
    }
  // The fit is about shape; the variance is kept exactly.
  double variance = 0;
  for (int j = 0; j < kGrid; ++j)
    for (int i = 0; i < kGrid; ++i) {
      const double h =
          a * response[first][i] * response[first][j] + b * response[second][i] * response[second][j];
      variance += h * h / (kGrid * kGrid);
    }
  const double scale = variance > 0 ? std::sqrt(want.variance / variance) : 0;
  shape.term[0] = {taps[first], static_cast<float>(a * scale)};
  shape.term[1] = {taps[second], static_cast<float>(b * scale)};
}

// Lower triangular factor of the correlation matrix; correlations that contradict each other are drawn toward
// 0.
std::array<std::array<float, 3>, 3> Mixing(const record::GrainModel& m) {
  for (double draw = 1; draw > 0.5; draw -= 0.01) {
    const double rg = std::clamp(m.red_green, -1.0, 1.0) * draw,
                 gb = std::clamp(m.green_blue, -1.0, 1.0) * draw,
                 rb = std::clamp(m.red_blue, -1.0, 1.0) * draw;
    const double l11 = 1 - rg * rg;
    if (l11 < 0) continue;
    const double g = std::sqrt(l11), h = g > 1e-6 ? (gb - rb * rg) / g : 0, rest = 1 - rb * rb - h * h;
    if (rest < -1e-9) continue;
    return {{{1, 0, 0},
             {static_cast<float>(rg), static_cast<float>(g), 0},
             {static_cast<float>(rb), static_cast<float>(h),
              static_cast<float>(std::sqrt(std::max(0.0, rest)))}}};
  }
  return {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
}

void FillGain(const record::GrainModel& model, color::Space space, double amount, NoiseShape& shape) {
  // Slope of the encoded value over density, times the strength there.
  const auto gain = [&](int layer, double encoded) {
    const double linear = std::max(1e-5, color::Decode(space, encoded));
    const double slope = (color::Encode(space, linear * 1.0005) - color::Encode(space, linear / 1.0005)) /
                         (2 * std::log10(1.0005));
    return amount * At(model.density, model.sigma[layer], -std::log10(linear)) * slope *
           (encoded > 0 ? 1 : 0);
  };
  // A cubic for each piece: right at both ends, and as near in between as least squares of what it is off by,
  // as a share, can bring it. Tones that were measured count most, strength bends there.
  constexpr double kStep = 1.0 / kGainPieces;
  std::vector<std::pair<double, double>> places;  // encoded, and how much they count
  for (int k = 1; k < 24 * kGainPieces; ++k) places.emplace_back(k / (24.0 * kGainPieces), 1);
  for (const double density : model.density)
    places.emplace_back(color::Encode(space, std::pow(10, -density)), 12);
  for (int c = 0; c < 3; ++c) {
    double most = 0;
    for (int i = 0; i < kGainPieces; ++i) most = std::max(most, gain(c, kStep * i));
    for (int i = 0; i < kGainPieces; ++i) {
      const double first = gain(c, kStep * i), rise = gain(c, kStep * (i + 1)) - first;
      // first + rise t + t (1 - t) (bend + twist t)
      double bb = 1e-30, bt = 0, tt = 1e-30, b = 0, t = 0;
      for (const auto& [place, counts] : places) {
        const double at = place / kStep - i, arch = at * (1 - at);
        if (at <= 0 || at >= 1) continue;
        const double value = gain(c, place);
        const double weight = counts / (value * value + 1e-3 * most * most + 1e-30),
                     off = value - first - rise * at;
        bb += weight * arch * arch;
        bt += weight * arch * arch * at;
        tt += weight * arch * arch * at * at;
        b += weight * arch * off;
        t += weight * arch * at * off;
      }
      const double whole = bb * tt - bt * bt;
      const double bend = (b * tt - t * bt) / whole, twist = (t * bb - b * bt) / whole;
      const int at = kGainPieces * c + i;
      shape.gain[0][at] = static_cast<float>(first);
      shape.gain[1][at] = static_cast<float>(rise + bend);
      shape.gain[2][at] = static_cast<float>(twist - bend);
      shape.gain[3][at] = static_cast<float>(-twist);
    }
  }
}

double PitchFor(const record::GrainModel& model, int long_side_px, double size) {
  return model.film_long_side_mm * 1000 / long_side_px / size;
}

}  // namespace

record::GrainModel FilmGrain(double granularity, double size_um, double film_long_side_mm) {
  record::GrainModel m;
  m.film_long_side_mm = film_long_side_mm;
  // The "scan" is fine enough to resolve the blobs.
  m.pitch_um = size_um / 4;
  const double blob_mm = size_um / 1000 / 2.355;
  // Power of a Gaussian blob, normalised to a pixel variance of 1 at this pitch (the pixel's own averaging is
  // small).
  const double unit = 4 * pi * blob_mm * blob_mm;
  for (double f = 0; f <= 0.5 / (m.pitch_um / 1000) * 1.4143; f += 0.02 / (m.pitch_um / 1000)) {
    m.per_mm.push_back(f);
    m.power.push_back(unit * std::exp(-4 * pi * pi * blob_mm * blob_mm * f * f));
  }
  // A square of the area of the 48 um disc stands for it.
  const double sigma1 = granularity / 1000 / SigmaRatio(m, 48 * std::sqrt(pi / 4));
  for (double d = 0; d <= 2.6001; d += 0.1) {
    m.density.push_back(d);
    const double toe = d > 1.4 ? std::exp(-(d - 1.4) * (d - 1.4) / 0.5) : 1;
    for (auto& s : m.sigma) s.push_back(sigma1 * std::sqrt(std::max(0.02, d)) * toe);
  }
  m.red_green = m.green_blue = 0.35;
  m.red_blue = 0.25;
  return m;
}

bool Usable(const record::GrainModel& m) {
  if (!Ascending(m.density) || !Ascending(m.per_mm) || m.power.size() != m.per_mm.size() ||
      !Positive(m.power))
    return false;
  for (const auto& s : m.sigma)
    if (s.size() != m.density.size() || !Positive(s)) return false;
  return m.per_mm.front() >= 0 && m.pitch_um > 0 && std::isfinite(m.pitch_um) && m.film_long_side_mm > 0 &&
         std::isfinite(m.film_long_side_mm) && std::isfinite(m.red_green) && std::isfinite(m.green_blue) &&
         std::isfinite(m.red_blue);
}

double PixelPower(const record::GrainModel& model, double pitch_um, double fx, double fy) {
  const double pitch_mm = pitch_um / 1000;
  // A scan pixel has averaged once; only what a larger pixel averages more comes on top.
  const double scan_mm = model.pitch_um / 1000;
  const bool larger = pitch_um > model.pitch_um;
  const int folds = std::min(40, static_cast<int>(std::ceil(model.per_mm.back() * pitch_mm)) + 1);
  double sum = 0;
  for (int k = -folds; k <= folds; ++k)
    for (int l = -folds; l <= folds; ++l) {
      const double u = (fx + k) / pitch_mm, v = (fy + l) / pitch_mm;
      double p = FilmPower(model, std::hypot(u, v));
      if (p <= 0) continue;
      if (larger) {
        const double sx = Sinc(fx + k) / std::max(0.3, Sinc(std::min(0.5, std::abs(u) * scan_mm)));
        const double sy = Sinc(fy + l) / std::max(0.3, Sinc(std::min(0.5, std::abs(v) * scan_mm)));
        p *= sx * sx * sy * sy;
      }
      sum += p;
    }
  return sum / (pitch_mm * pitch_mm);
}

double SigmaRatio(const record::GrainModel& model, double pitch_um) {
  return std::sqrt(MakeGrid(model, pitch_um).variance);
}

NoiseShape ShapeFor(const record::GrainModel& model, int long_side_px, color::Space space, double amount,
                    double size) {
  NoiseShape shape;
  FitTerms(MakeGrid(model, PitchFor(model, long_side_px, size)), shape);
  shape.mix = Mixing(model);
  FillGain(model, space, amount, shape);
  return shape;
}

double FitErrorDb(const record::GrainModel& model, int long_side_px, double size, const NoiseShape& shape) {
  const PowerGrid want = MakeGrid(model, PitchFor(model, long_side_px, size));
  const double peak = *std::max_element(want.power.begin(), want.power.end());
  double sum = 0;
  int count = 0;
  for (int j = 0; j < kGrid; ++j)
    for (int i = 0; i < kGrid; ++i) {
      const double p = want.power[j * kGrid + i];
      if (p < 0.01 * peak) continue;
      double h = 0;
      for (const NoiseShape::Term& t : shape.term)
        h += t.strength * Response(t.taps, GridFrequency(i)) * Response(t.taps, GridFrequency(j));
      const double db = 10 * std::log10(std::max(h * h, 1e-12) / p);
      sum += db * db;
      ++count;
    }
  return std::sqrt(sum / std::max(1, count));
}

}  // namespace samelight::render
