#include "render/bake.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <functional>

#include "base/task_pool.h"
#include "color/encode_float.h"

namespace samelight::render {
namespace {

constexpr double kSceneMost = 16;  // 4 EV above white

// log2 with the fraction of each octave bent smoothly; the kernels' formula in double.
double BentLog2(double x) {
  int exponent = 0;
  const double m = 2 * std::frexp(x, &exponent) - 1;
  return exponent - 1 + m * (4 - m) / 3;
}

double BentExp2(double u) {
  const double whole = std::floor(u);
  // m (4 - m) / 3 = f
  const double f = u - whole;
  return std::ldexp(1 + (2 - std::sqrt(4 - 3 * f)), static_cast<int>(whole));
}

// The table's nodes are spread along this power of display-linear: denser in the darks than an encoding,
// since a colour difference is felt there first. This and the other numbers here were chosen by
// bake_test.cc's figures.
constexpr double kNodePower = 0.25;

// One axis of the table.
struct Channel {
  double most = 1;     // input that maps to 1
  double ease = 1e-3;  // relative to `most`
  look::LayerOf<double> layer{};
  double offset_log10 = 0;
  bool decoded = false;                    // the axis is a decoded channel, not a layer of the film
  std::function<double(double)> exposure;  // the layer's scene-linear exposure of an input, along the greys
};

// Log10 exposure of the layer, offset included, for an input of 0..1; and display-linear output.
double LogAt(const Channel& c, double x) {
  return std::log10(look::PositiveExposure(c.exposure(x * c.most))) + c.offset_log10;
}
double LayerAt(const Channel& c, double x) { return std::pow(10, LayerOut(c.layer, LogAt(c, x))); }

double Aim(const Channel& c, double x) {
  const double curve = std::pow(LayerAt(c, x), kNodePower);
  // A table along decoded values needs nodes in the highlights too, where the layers are flat but still mix.
  return c.decoded ? 0.3 * curve + 0.7 * std::pow(x, 0.3) : curve;
}

// The curve of the layer, so that the table holds only what is left and is nearly straight along each axis.
void MakeShaper(const Channel& c, int channel, Baked& b) {
  // Keeps the shaper strictly rising where toe and shoulder are flat. More of it would bend the table's
  // content.
  constexpr double kLogShare = 0.001;
  const double low = BentLog2(c.ease), high = BentLog2(1 + c.ease);
  b.ease[channel] = static_cast<float>(c.ease);
  // The margins leave room for rounding, so that no kernel has to clamp again.
  constexpr double kPieceMargin = 2e-4, kNodeMargin = 1e-3;
  const double scale = (kShaperPieces - 2 * kPieceMargin) / (high - low);
  b.u_scale[channel] = static_cast<float>(scale);
  b.u_bias[channel] = static_cast<float>(kPieceMargin - (low + 127) * scale);
  const double aim0 = Aim(c, 0), span = std::max(1e-6, Aim(c, 1) - aim0);
  const auto value = [&](double part) {
    const double x = std::max(0.0, BentExp2(low + part * (high - low)) - c.ease);
    const double t = (1 - kLogShare) * (Aim(c, x) - aim0) / span + kLogShare * part;
    return kNodeMargin + (b.nodes - 1 - 2 * kNodeMargin) * t;
  };
  std::array<double, kShaperPieces + 1> y{}, slope{};
  for (int i = 0; i <= kShaperPieces; ++i) y[i] = value(static_cast<double>(i) / kShaperPieces);
  for (int i = 0; i <= kShaperPieces; ++i) {
    const double part = static_cast<double>(i) / kShaperPieces, left = std::max(0.0, part - 1e-4),
                 right = std::min(1.0, part + 1e-4);
    slope[i] = (value(right) - value(left)) / ((right - left) * kShaperPieces);
    // Sufficient for monotone cubics: Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17, 238.
    if (i < kShaperPieces) slope[i] = std::min(slope[i], 3 * (y[i + 1] - y[i]));
    if (i > 0) slope[i] = std::min(slope[i], 3 * (y[i] - y[i - 1]));
  }
  // The kernels index by the shaper without looking; whatever a damaged correction holds, it stays within the
  // table.
  bool sound = true;
  for (int i = 0; i <= kShaperPieces; ++i)
    sound = sound && y[i] >= 0 && y[i] <= b.nodes - 1 && slope[i] >= 0 && (i == 0 || y[i] >= y[i - 1]);
  if (!sound)
    for (int i = 0; i <= kShaperPieces; ++i) {
      slope[i] = static_cast<double>(b.nodes - 2) / kShaperPieces;
      y[i] = 0.5 + i * slope[i];
    }
  auto& s = b.shaper[channel];
  for (int i = 0; i < kShaperPieces; ++i) {
    const double d = y[i + 1] - y[i];
    s[0][i] = static_cast<float>(y[i]);
    s[1][i] = static_cast<float>(slope[i]);
    s[2][i] = static_cast<float>(3 * d - 2 * slope[i] - slope[i + 1]);
    s[3][i] = static_cast<float>(slope[i] + slope[i + 1] - 2 * d);
  }
}

double ShaperAt(const Baked& b, int channel, double x) {
  const double v =
      (BentLog2(std::clamp(x, 0.0, 1.0) + b.ease[channel]) + 127) * b.u_scale[channel] + b.u_bias[channel];
  const int i = std::clamp(static_cast<int>(std::floor(v)), 0, kShaperPieces - 1);
  const double f = v - i;
  const auto& s = b.shaper[channel];
  return ((s[3][i] * f + s[2][i]) * f + s[1][i]) * f + s[0][i];
}

// x with ShaperAt(x) = s, by bisection: the shaper is monotone.
double ShaperInverse(const Baked& b, int channel, double s) {
  double low = 0, high = 1;
  for (int i = 0; i < 60; ++i) {
    const double mid = low < b.ease[channel] * 1e-3 ? (low + high) / 2 : std::sqrt(low * high);
    (ShaperAt(b, channel, mid) < s ? low : high) = mid;
  }
  return (low + high) / 2;
}

Vec3 Encoded(color::Space space, const Mat3& space_from_rec2020, const Vec3& display) {
  Vec3 v = Mul(space_from_rec2020, display);
  for (double& c : v) c = color::Encode(space, c);
  return v;
}

// Interpolation between exact nodes always errs to one side where the map is curved. Taking the mean error of
// the cells around a node off its value leaves about 0.4 of the error. For a quadratic map the mean error
// over a simplex with edges e is 1/20 of half the sum of the second differences along its six edges; over the
// six simplices of a cell each axis and the diagonal count once, each face diagonal 2/3.
void Centre(Baked& b) {
  struct Edge {
    int r, g, b;
    float weight;
  };
  constexpr Edge kEdges[] = {{1, 0, 0, 1},       {0, 1, 0, 1},       {0, 0, 1, 1}, {1, 1, 0, 2.f / 3},
                             {0, 1, 1, 2.f / 3}, {1, 0, 1, 2.f / 3}, {1, 1, 1, 1}};
  const int n = b.nodes;
  static thread_local std::vector<float> exact;
  exact.assign(b.entries(), b.entries() + static_cast<std::size_t>(n) * n * n * 4);
  float* out = b.entries();
  for (int r = 0; r < n; ++r)
    for (int g = 0; g < n; ++g)
      for (int bl = 0; bl < n; ++bl, out += 4) {
        const float* at = &exact[out - b.entries()];
        float sum[4] = {0, 0, 0, 0};
        for (const Edge& e : kEdges) {
          if (r < e.r || g < e.g || bl < e.b || r + e.r >= n || g + e.g >= n || bl + e.b >= n) continue;
          const int step = 4 * ((e.r * n + e.g) * n + e.b);
          for (int c = 0; c < 4; ++c) sum[c] += e.weight * (at[c - step] - 2 * at[c] + at[c + step]);
        }
        for (int c = 0; c < 4; ++c) out[c] = at[c] - sum[c] / 40;
      }
}

// Scene exposure (before the offset) at which a layer's log10 output passes `log_out`, toe and shoulder set
// aside.
double ExposureAt(const look::LayerOf<double>& layer, double offset_log10, double log_out) {
  return std::pow(10, (log_out - look::kLogMidGrey) / layer.gamma + look::kLogMidGrey - offset_log10);
}

}  // namespace

void Baked::SetNodes(int count) {
  nodes = count;
  const std::size_t floats = static_cast<std::size_t>(count) * count * count * 4;
  table.resize(floats + 15);
  const auto address = reinterpret_cast<std::uintptr_t>(table.data());
  lead_ = ((address + 63) / 64 * 64 - address) / sizeof(float);
}

namespace {

look::LookOf<float> InFloat(const look::LookOf<double>& look) {
  look::LookOf<float> f;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      f.m1[i][j] = static_cast<float>(look.m1[i][j]);
      f.interimage[i][j] = static_cast<float>(look.interimage[i][j]);
      f.m2[i][j] = static_cast<float>(look.m2[i][j]);
    }
    const auto& l = look.layer[i];
    f.layer[i] = {static_cast<float>(l.gamma), static_cast<float>(l.floor), static_cast<float>(l.ceiling),
                  static_cast<float>(l.toe), static_cast<float>(l.shoulder)};
  }
  for (int i = 0; i < record::kHueBumps; ++i)
    f.bump[i] = {static_cast<float>(look.bump[i].hue_deg), static_cast<float>(look.bump[i].chroma),
                 static_cast<float>(look.bump[i].lightness)};
  return f;
}

// `blended`: roots instead of encoded values, the skin share in the fourth lane.
void BakeOne(const look::Resolved& resolved, color::Space space, int nodes, bool blended, Baked& baked) {
  baked.SetNodes(nodes);
  Mat3 m1{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) m1[i][j] = resolved.look.m1[i][j];
  // A display-referred source has a tone curve in front of the matrices, and goes into the table as it is.
  const bool whole = resolved.display_referred;
  const Mat3 linear = whole ? kIdentity3 : Mul(m1, resolved.scene_matrix);
  std::array<Channel, 3> channels;
  for (int c = 0; c < 3; ++c) {
    Channel& ch = channels[c];
    ch.layer = resolved.look.layer[c];
    ch.offset_log10 = resolved.offset_log10[c];
    if (whole) {
      ch.ease = 3e-4;
      ch.decoded = true;
      ch.exposure = [&, c](double x) { return Mul(m1, look::Unified(resolved, {x, x, x}))[c]; };
    } else {
      double covered = 0;
      for (double v : linear[c]) covered += kSceneMost * std::max(0.0, v);
      // Eight widths of the shoulder away the curve is flat; three of the toe suffice, since the scale is
      // linear below.
      const double bright = ExposureAt(ch.layer, ch.offset_log10, ch.layer.ceiling + 8 * ch.layer.shoulder);
      const double dark = ExposureAt(ch.layer, ch.offset_log10, ch.layer.floor - 3 * ch.layer.toe);
      ch.most = std::max(1e-6, std::min(covered, bright));
      ch.ease = std::clamp(dark / ch.most, 1e-7, 1e-2);
      ch.exposure = [](double x) { return x; };
    }
    // A damaged correction gives a wrong picture, never an index outside the table. Not a number fails each
    // test.
    if (!(ch.most >= 1e-6 && ch.most <= 1e12)) ch.most = kSceneMost;
    if (!(ch.ease >= 1e-7 && ch.ease <= 1e-2)) ch.ease = 1e-3;
    for (int k = 0; k < 3; ++k) {
      const double m = linear[c][k] / ch.most;
      baked.matrix[c][k] = std::isfinite(m) ? static_cast<float>(std::clamp(m, -1e9, 1e9)) : 0.0f;
    }
    MakeShaper(ch, c, baked);
  }
  std::array<std::vector<double>, 3> given, node, log_exposure;
  for (int c = 0; c < 3; ++c)
    for (int i = 0; i < nodes; ++i) {
      const double x = ShaperInverse(baked, c, i);
      const double in = channels[c].most * x;
      given[c].push_back(in);
      node[c].push_back(whole && !resolved.tone.empty()
                            ? std::pow(10.0, resolved.tone(std::log10(look::PositiveExposure(in))))
                            : in);
      log_exposure[c].push_back(LogAt(channels[c], x));
    }
  const Mat3 out = color::RgbFromRgb(space, color::Space::kRec2020);
  const Mat3& m = resolved.scene_matrix;
  const look::LookOf<float> look = InFloat(resolved.look);
  const float gain = static_cast<float>(resolved.chroma_gain);
  float offset[3];
  for (int c = 0; c < 3; ++c) offset[c] = static_cast<float>(resolved.offset_log10[c]);
  float* entry = baked.entries();
  for (int r = 0; r < nodes; ++r)
    for (int g = 0; g < nodes; ++g)
      for (int b = 0; b < nodes; ++b, entry += 4) {
        // In float, which is faster; what it costs is part of the error that the bake measures.
        float film[3];
        if (whole) {
          // The tone curve was undone once per axis.
          const Vec3 scene = look::WithoutCastOfClipped(resolved, Vec3{given[0][r], given[1][g], given[2][b]},
                                                        Mul(m, Vec3{node[0][r], node[1][g], node[2][b]}));
          const float in[3] = {static_cast<float>(scene[0]), static_cast<float>(scene[1]),
                               static_cast<float>(scene[2])};
          look::FilmFromScene(look, offset, gain, in, film);
        } else {
          const float in[3] = {static_cast<float>(log_exposure[0][r]), static_cast<float>(log_exposure[1][g]),
                               static_cast<float>(log_exposure[2][b])};
          look::FilmFromLayers(look, gain, in, film);
        }
        const Vec3 y{film[0], film[1], film[2]};
        const Vec3 v = Mul(out, y);
        for (int c = 0; c < 3; ++c) {
          const auto linear_c = static_cast<float>(v[c]);
          const float coded = blended ? std::copysign(std::sqrt(std::abs(linear_c)), linear_c)
                                      : color::EncodeInFloat(space, linear_c);
          entry[c] = std::isfinite(coded) ? coded : 0.0f;
        }
        const double share = blended ? look::SkinShare(y) : 0;
        entry[3] = std::isfinite(share) ? static_cast<float>(share) : 0.0f;
      }
  Centre(baked);
}

}  // namespace

void FillEncoder(color::Space space, Encoder& encoder) {
  constexpr double kStep = kMostRoot / kEncoderPieces;
  const auto value = [&](double root) { return color::Encode(space, root * root); };
  const auto slope = [&](double root) {
    const double low = std::max(0.0, root - 1e-6), high = root + 1e-6;
    return kStep * (value(high) - value(low)) / (high - low);
  };
  for (int i = 0; i < kEncoderPieces; ++i) {
    const double x0 = i * kStep, x1 = x0 + kStep, rise = value(x1) - value(x0), s0 = slope(x0),
                 s1 = slope(x1);
    encoder.piece[0][i] = static_cast<float>(value(x0));
    encoder.piece[1][i] = static_cast<float>(s0);
    encoder.piece[2][i] = static_cast<float>(3 * rise - 2 * s0 - s1);
    encoder.piece[3][i] = static_cast<float>(s0 + s1 - 2 * rise);
  }
}

void Bake(const look::Resolved& resolved, color::Space space, int nodes, BakedCorrection& baked,
          bool side_by_side) {
  look::Resolved film = resolved;
  film.skin_differs = false;
  baked.blended = resolved.skin_differs;
  if (!baked.blended) return BakeOne(film, space, nodes, false, baked.film);
  look::Resolved skin = film;
  skin.look = resolved.skin_look;
  skin.offset_log10 = resolved.skin_offset_log10;
  const auto one = [&](std::size_t i) {
    BakeOne(i == 0 ? film : skin, space, nodes, true, i == 0 ? baked.film : baked.skin);
  };
  if (side_by_side)
    ParallelFor(2, {}, one);
  else
    for (const std::size_t i : {0, 1}) one(i);
  FillEncoder(space, baked.encoder);
}

std::vector<float> NodeInputs(const Baked& baked) {
  const int n = baked.nodes;
  std::vector<float> inputs(static_cast<std::size_t>(n) * n * n * 3, 0);
  Mat3 matrix{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) matrix[i][j] = baked.matrix[i][j];
  const Mat3 back = Inverse(matrix);
  std::array<std::vector<double>, 3> axis;
  for (int c = 0; c < 3; ++c)
    for (int i = 0; i < n; ++i) axis[c].push_back(ShaperInverse(baked, c, i));
  float* out = inputs.data();
  for (int r = 0; r < n; ++r)
    for (int g = 0; g < n; ++g)
      for (int b = 0; b < n; ++b, out += 3) {
        const Vec3 in = Mul(back, Vec3{axis[0][r], axis[1][g], axis[2][b]});
        for (int c = 0; c < 3; ++c) out[c] = std::isfinite(in[c]) ? static_cast<float>(in[c]) : 0.0f;
      }
  return inputs;
}

Vec3 Exact(const look::Resolved& resolved, color::Space space, const Vec3& rec2020_linear) {
  Vec3 v = Encoded(space, color::RgbFromRgb(space, color::Space::kRec2020),
                   look::Evaluate(resolved, rec2020_linear));
  for (double& c : v) c = std::clamp(c, 0.0, 1.0);
  return v;
}

}  // namespace samelight::render
