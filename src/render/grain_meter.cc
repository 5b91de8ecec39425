#include "render/grain_meter.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "color/space.h"

namespace samelight::render {
namespace {

constexpr int kSide = 48;  // patch, px
constexpr int kBlock = 8;
constexpr int kPixels = kSide * kSide;
constexpr int kBins = 34;  // radial bins of 1/48 cycle a pixel, to the corner of the spectrum
constexpr int kPatchesPerScan = 2000;
constexpr double kToneStep = 0.1;    // density
constexpr double kMostAlike = 0.15;  // correlation above that of a film's patches, which scatters by 0.04

using Plane = std::array<float, kPixels>;

// Takes the best quadratic surface off, so that soft shading does not count. Products of Legendre polynomials
// are orthogonal enough on this grid for one pass each.
void Flatten(Plane& p) {
  std::array<double, kSide> one{}, two{};
  double n1 = 0, n2 = 0;
  for (int i = 0; i < kSide; ++i) {
    const double t = (2.0 * i + 1) / kSide - 1;
    one[i] = t;
    two[i] = t * t - (1 - 1.0 / (kSide * kSide)) / 3;
    n1 += one[i] * one[i];
    n2 += two[i] * two[i];
  }
  double mean = 0, x = 0, y = 0, xx = 0, yy = 0, xy = 0;
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i < kSide; ++i) {
      const double v = p[j * kSide + i];
      mean += v;
      x += v * one[i];
      y += v * one[j];
      xx += v * two[i];
      yy += v * two[j];
      xy += v * one[i] * one[j];
    }
  mean /= kPixels;
  x /= n1 * kSide;
  y /= n1 * kSide;
  xx /= n2 * kSide;
  yy /= n2 * kSide;
  xy /= n1 * n1;
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i < kSide; ++i)
      p[j * kSide + i] -= static_cast<float>(mean + x * one[i] + y * one[j] + xx * two[i] + yy * two[j] +
                                             xy * one[i] * one[j]);
}

double MeanProduct(const Plane& a, const Plane& b) {
  double sum = 0;
  for (int i = 0; i < kPixels; ++i) sum += static_cast<double>(a[i]) * b[i];
  return sum / (kPixels - 6);  // six numbers were fitted
}

double Lumpiness(const Plane& p, double variance) {
  constexpr int kBlocks = kSide / kBlock;
  double sum = 0;
  for (int by = 0; by < kBlocks; ++by)
    for (int bx = 0; bx < kBlocks; ++bx) {
      double mean = 0;
      for (int y = 0; y < kBlock; ++y)
        for (int x = 0; x < kBlock; ++x) mean += p[(by * kBlock + y) * kSide + bx * kBlock + x];
      mean /= kBlock * kBlock;
      sum += mean * mean;
    }
  return sum / (kBlocks * kBlocks - 6) * kBlock * kBlock / variance;
}

double Kurtosis(const Plane& p, double variance) {
  double sum = 0;
  for (float v : p) sum += static_cast<double>(v) * v * v * v;
  return sum / kPixels / (variance * variance);
}

// Adds the radial mean of |transform|^2 under a Hann window, scaled so that a plane of variance 1 integrates
// to 1 over the unit cell of frequencies.
void AddPower(const Plane& p, double variance, std::vector<float>& radial) {
  using Complex = std::complex<float>;
  static const auto kTurn = [] {
    std::array<Complex, kSide> t;
    for (int i = 0; i < kSide; ++i)
      t[i] = std::polar(1.0f, static_cast<float>(-2 * std::numbers::pi * i / kSide));
    return t;
  }();
  static const auto kWindow = [] {
    std::array<float, kSide> w{};
    for (int i = 0; i < kSide; ++i)
      w[i] = static_cast<float>(std::sqrt(8.0 / 3) * 0.5 *
                                (1 - std::cos(2 * std::numbers::pi * (i + 0.5) / kSide)));
    return w;
  }();
  // Half of the columns hold everything: the input is real.
  constexpr int kHalf = kSide / 2 + 1;
  std::array<Complex, kSide * kHalf> rows;
  for (int y = 0; y < kSide; ++y)
    for (int u = 0; u < kHalf; ++u) {
      Complex sum = 0;
      for (int x = 0; x < kSide; ++x) sum += p[y * kSide + x] * kWindow[x] * kTurn[x * u % kSide];
      rows[y * kHalf + u] = sum * kWindow[y];
    }
  std::array<double, kBins> power{}, weight{};
  for (int v = 0; v < kSide; ++v)
    for (int u = 0; u < kHalf; ++u) {
      Complex sum = 0;
      for (int y = 0; y < kSide; ++y) sum += rows[y * kHalf + u] * kTurn[y * v % kSide];
      const double radius = std::hypot(u, v > kSide / 2 ? v - kSide : v);
      const int bin = static_cast<int>(std::lround(radius));
      if (bin >= kBins) continue;
      const double w = u == 0 || u == kSide / 2 ? 1 : 2;
      power[bin] += w * std::norm(sum);
      weight[bin] += w;
    }
  for (int b = 0; b < kBins; ++b)
    if (weight[b] > 0) radial[b] += static_cast<float>(power[b] / weight[b] / kPixels / variance / 3);
}

// The densest place of a sample, by halving the shortest interval that holds half of it.
double HalfSampleMode(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  std::size_t first = 0, count = v.size();
  while (count > 3) {
    const std::size_t half = (count + 1) / 2;
    std::size_t best = first;
    for (std::size_t i = first; i + half <= first + count; ++i)
      if (v[i + half - 1] - v[i] < v[best + half - 1] - v[best]) best = i;
    first = best;
    count = half;
  }
  double sum = 0;
  for (std::size_t i = 0; i < count; ++i) sum += v[first + i];
  return sum / static_cast<double>(count);
}

double Median(std::vector<double> v) {
  std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
  return v[v.size() / 2];
}

// The strength that most patches agree on. The mode finds the cluster among outliers above it; the median of
// those near it is steadier than the mode itself.
double Agreed(const std::vector<double>& sigma) {
  const double mode = HalfSampleMode(sigma);
  std::vector<double> near;
  for (double s : sigma)
    if (std::abs(s / mode - 1) < 0.2) near.push_back(s);
  return near.empty() ? mode : Median(near);
}

// Weighted least squares of y by a + b x + c x^2, c not above 0; values at x.
std::vector<double> Arch(const std::vector<double>& x, const std::vector<double>& y,
                         const std::vector<double>& weight) {
  std::vector<double> value;
  for (std::size_t terms : {3, 2}) {
    // Normal equations, solved by elimination.
    double m[3][4] = {};
    for (std::size_t i = 0; i < x.size(); ++i) {
      const double power[3] = {1, x[i], x[i] * x[i]};
      for (std::size_t r = 0; r < terms; ++r) {
        for (std::size_t c = 0; c < terms; ++c) m[r][c] += weight[i] * power[r] * power[c];
        m[r][3] += weight[i] * power[r] * y[i];
      }
    }
    for (std::size_t p = 0; p < terms; ++p)
      for (std::size_t r = 0; r < terms; ++r) {
        if (r == p) continue;
        const double f = m[r][p] / m[p][p];
        for (std::size_t c = p; c < 4; ++c) m[r][c] -= f * m[p][c];
      }
    const double bend = terms == 3 ? m[2][3] / m[2][2] : 0;
    if (bend > 0) continue;
    for (const double at : x) value.push_back(m[0][3] / m[0][0] + (m[1][3] / m[1][1] + bend * at) * at);
    break;
  }
  return value;
}

// Strength changes slowly with tone, much alike in all layers: its logarithm against that of density is near
// an arch, higher or lower by layer. Where too many patches of one tone were texture, the strength is brought
// to what the other tones and layers say. A robust fit by least squares, reweighted (Geman and McClure), from
// wide to narrow.
void DropStrays(const std::vector<double>& density, const std::array<std::vector<double>, 3>& patches,
                std::array<std::vector<double>, 3>& sigma) {
  constexpr double kNarrow = 0.1, kStray = 0.16;  // in logarithm: layers do differ in shape
  constexpr double kMany = 40;                    // patches that are believed in full
  const std::size_t n = density.size();
  if (n < 5) return;
  std::vector<double> x, y, believed, fit(3 * n, 0), flat(3 * n);
  for (std::size_t c = 0; c < 3; ++c)
    for (std::size_t i = 0; i < n; ++i) {
      x.push_back(std::log(density[i]));
      y.push_back(std::log(sigma[c][i]));
      believed.push_back(std::min(1.0, patches[c][i] / kMany));
    }
  std::vector<double> weight = believed;
  std::array<double, 3> height{};
  for (double scale = 0.8; scale >= kNarrow; scale *= 0.9) {
    for (std::size_t c = 0; c < 3; ++c) {
      double sum = 0, all = 0;
      for (std::size_t i = c * n; i < (c + 1) * n; ++i) {
        sum += weight[i] * (y[i] - fit[i]);
        all += weight[i];
      }
      height[c] += sum / all;
    }
    for (std::size_t i = 0; i < 3 * n; ++i) flat[i] = y[i] - height[i / n];
    fit = Arch(x, flat, weight);
    for (std::size_t i = 0; i < 3 * n; ++i) {
      fit[i] += height[i / n];
      // Texture only adds: what lies above counts for less.
      const double off = (y[i] - fit[i]) / scale, far = off > 0 ? 2 * off : off;
      weight[i] = believed[i] / ((1 + far * far) * (1 + far * far));
    }
  }
  for (std::size_t i = 0; i < 3 * n; ++i)
    sigma[i / n][i % n] = std::exp(std::clamp(y[i], fit[i] - kStray, fit[i] + kStray));
}

}  // namespace

double GrainMeter::Alike(const Patch& p) { return (p.red_green + p.green_blue + p.red_blue) / 3.0; }

GrainMeter::Group& GrainMeter::GroupOf(int long_side_px, double film_long_side_mm) {
  for (Group& g : groups_)
    if (std::abs(g.long_side_px / g.film_long_side_mm / (long_side_px / film_long_side_mm) - 1) < 0.02)
      return g;
  groups_.push_back({long_side_px, film_long_side_mm, {}});
  return groups_.back();
}

void GrainMeter::Add(const GrainMeter& other) {
  for (const Group& from : other.groups_) {
    Group& to = GroupOf(from.long_side_px, from.film_long_side_mm);
    to.patches.insert(to.patches.end(), from.patches.begin(), from.patches.end());
  }
}

void GrainMeter::Add(const image::RgbF& scan, double film_long_side_mm, const Cancel& cancel) {
  const int long_side = std::max(scan.width(), scan.height());
  const int across = scan.width() / kSide, down = scan.height() / kSide;
  if (across < 1 || down < 1 || !(film_long_side_mm > 0)) return;
  Group& group = GroupOf(long_side, film_long_side_mm);
  const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const long cells = static_cast<long>(across) * down;
  const long wanted = std::min<long>(cells, kPatchesPerScan);
  std::array<Plane, 3> plane;
  for (long i = 0; i < wanted && !cancel.requested(); ++i) {
    const long cell = i * cells / wanted;
    const int x0 = static_cast<int>(cell % across) * kSide, y0 = static_cast<int>(cell / across) * kSide;
    Patch patch{};
    bool sound = true;
    double mean[3] = {0, 0, 0};
    for (int y = 0; y < kSide && sound; ++y) {
      const float* p = scan.at(x0, y0 + y);
      for (int x = 0; x < kSide && sound; ++x, p += 3) {
        const Vec3 linear = Mul(srgb, Vec3{p[0], p[1], p[2]});
        for (int c = 0; c < 3; ++c) {
          // Near clipping the noise is cut off.
          sound = sound && linear[c] > 0.0015 && linear[c] < 0.985;
          const double d = -std::log10(std::max(linear[c], 1e-6));
          plane[c][y * kSide + x] = static_cast<float>(d);
          mean[c] += d / kPixels;
        }
      }
    }
    if (!sound) continue;
    double variance[3];
    for (int c = 0; c < 3 && sound; ++c) {
      Flatten(plane[c]);
      variance[c] = MeanProduct(plane[c], plane[c]);
      patch.density[c] = static_cast<float>(mean[c]);
      patch.sigma[c] = static_cast<float>(std::sqrt(variance[c]));
      patch.lumpiness += static_cast<float>(Lumpiness(plane[c], variance[c]) / 3);
      sound = variance[c] > 1e-8 && Kurtosis(plane[c], variance[c]) < 4;
    }
    if (!sound || patch.lumpiness > 60) continue;
    const auto correlation = [&](int a, int b) {
      return static_cast<float>(MeanProduct(plane[a], plane[b]) / std::sqrt(variance[a] * variance[b]));
    };
    patch.red_green = correlation(0, 1);
    patch.green_blue = correlation(1, 2);
    patch.red_blue = correlation(0, 2);
    patch.power.assign(kBins, 0);
    for (int c = 0; c < 3; ++c) AddPower(plane[c], variance[c], patch.power);
    group.patches.push_back(std::move(patch));
  }
}

Result<record::GrainModel> GrainMeter::Model() const {
  constexpr std::size_t kFewest = 24, kFewestPerTone = 6;
  const Error none{ErrorCode::kNothingToDo, "the scans have too few flat places to measure grain", "",
                   "add scans with sky, walls or soft backgrounds, at full size"};
  const Group* group = nullptr;
  for (const Group& g : groups_)
    if (group == nullptr || g.patches.size() > group->patches.size()) group = &g;
  if (group == nullptr || group->patches.size() < kFewest) return none;
  // Texture has more energy in its lumps than grain; the least lumpy tenth shows what grain has.
  std::vector<double> lumpy;
  for (const Patch& p : group->patches) lumpy.push_back(p.lumpiness);
  std::sort(lumpy.begin(), lumpy.end());
  const double limit = 1.8 * lumpy[lumpy.size() / 10];
  std::vector<const Patch*> smooth, flat;
  std::vector<double> alike;
  for (const Patch& p : group->patches)
    if (p.lumpiness <= limit) {
      smooth.push_back(&p);
      alike.push_back(Alike(p));
    }
  // Layers have grain of their own, texture is in all of them: what ties the layers together more than a film
  // does is texture as fine as grain.
  std::sort(alike.begin(), alike.end());
  for (const Patch* p : smooth)
    if (Alike(*p) <= alike[alike.size() / 10] + kMostAlike) flat.push_back(p);

  record::GrainModel model;
  model.film_long_side_mm = group->film_long_side_mm;
  model.pitch_um = group->film_long_side_mm * 1000 / group->long_side_px;
  // Strength against tone.
  std::array<std::vector<double>, 3> patches;
  for (double d = kToneStep / 2; d < 3; d += kToneStep) {
    std::array<double, 3> value{}, found{};
    bool enough = true;
    for (int c = 0; c < 3; ++c) {
      std::vector<double> sigma;
      for (const Patch* p : flat)
        if (std::abs(p->density[c] - d) <= kToneStep / 2) sigma.push_back(p->sigma[c]);
      enough = enough && sigma.size() >= kFewestPerTone;
      if (enough) value[c] = Agreed(sigma);
      found[c] = static_cast<double>(sigma.size());
    }
    if (!enough) continue;
    model.density.push_back(d);
    for (int c = 0; c < 3; ++c) {
      model.sigma[c].push_back(value[c]);
      patches[c].push_back(found[c]);
    }
  }
  if (model.density.empty()) return none;
  DropStrays(model.density, patches, model.sigma);
  // Shape and correlation from the patches that agree with that strength.
  std::vector<const Patch*> agreeing;
  for (const Patch* p : flat) {
    const auto near = std::min_element(model.density.begin(), model.density.end(), [&](double a, double b) {
      return std::abs(a - p->density[1]) < std::abs(b - p->density[1]);
    });
    const std::size_t i = static_cast<std::size_t>(near - model.density.begin());
    if (std::abs(*near - p->density[1]) < kToneStep && std::abs(p->sigma[1] / model.sigma[1][i] - 1) < 0.2)
      agreeing.push_back(p);
  }
  if (agreeing.size() < kFewest) return none;
  model.patches = static_cast<int>(agreeing.size());
  std::vector<double> power(kBins, 0);
  const double share = 1.0 / static_cast<double>(agreeing.size());
  for (const Patch* p : agreeing) {
    for (int b = 0; b < kBins; ++b) power[b] += share * p->power[b];
    model.red_green += share * p->red_green;
    model.green_blue += share * p->green_blue;
    model.red_blue += share * p->red_blue;
  }
  // Flattening and the window spoil the two lowest bins.
  power[0] = power[1] = power[2];
  const double pitch_mm = model.pitch_um / 1000;
  for (int b = 0; b < kBins; ++b) {
    model.per_mm.push_back(b / (kSide * pitch_mm));
    model.power.push_back(power[b] * pitch_mm * pitch_mm);
  }
  return model;
}

}  // namespace samelight::render
