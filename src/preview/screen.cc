#include "preview/screen.h"

#include <algorithm>
#include <cmath>

#include "base/task_pool.h"
#include "codec/monitor.h"
#include "render/quantise.h"

namespace samelight::preview {
namespace {

// Even steps in an encoded space bend little; 8-bit rounding is the larger error.
constexpr int kMonitorNodes = 33;
constexpr int kProofNodes = 49;  // finer: a proof's space ends within the table
constexpr float kSeenAway = 2;
constexpr int kRowsAtOnce = 16;
constexpr std::size_t kAtOnce = 512;

// The look's compression maps the surface of sRGB (distance 1 from the grey axis) to
// knee + (1 - knee) * 2^(-1/4), knee 0.85 (look::CompressGamut); what lies beyond was outside.
constexpr float kDrawnIn = 0.85f + 0.15f * 0.84089642f;
// Too dark for its saturation to be seen: one step of 8 bits in sRGB is 3e-4.
constexpr float kDark = 4e-3f;

// Encoded values over the square root of linear, 0..1, linear between 1024 steps: within 1e-4 of the formula,
// a fortieth of an 8-bit step, but below 1e-4 linear.
class EncodeTable {
 public:
  explicit EncodeTable(color::Space space) : value_(kSteps + 2) {
    for (int i = 0; i < kSteps + 2; ++i) {
      const double root = static_cast<double>(i) / kSteps;
      value_[static_cast<std::size_t>(i)] = static_cast<float>(color::Encode(space, root * root));
    }
  }
  float operator()(float linear) const {
    if (!(linear > 0)) return 0;
    const float at = std::sqrt(std::min(linear, 1.0f)) * kSteps;
    const int i = static_cast<int>(at);
    const float* v = value_.data() + i;
    return v[0] + (at - static_cast<float>(i)) * (v[1] - v[0]);
  }

 private:
  static constexpr int kSteps = 1024;
  std::vector<float> value_;
};
const EncodeTable& TableOf(color::Space space) {
  static const EncodeTable srgb(color::Space::kSrgb), rec2020(color::Space::kRec2020);
  return space == color::Space::kSrgb ? srgb : rec2020;
}

struct FloatMatrix {
  float m[3][3];
  explicit FloatMatrix(const Mat3& from) {
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) m[i][j] = static_cast<float>(from[i][j]);
  }
  void Times(const float in[3], float out[3]) const {
    for (int i = 0; i < 3; ++i) out[i] = m[i][0] * in[0] + m[i][1] * in[1] + m[i][2] * in[2];
  }
};
const FloatMatrix& SrgbFromRec2020() {
  static const FloatMatrix matrix(color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020));
  return matrix;
}
const FloatMatrix& Rec2020FromSrgb() {
  static const FloatMatrix matrix(color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb));
  return matrix;
}

}  // namespace

Result<Monitor> MonitorOf(std::span<const std::uint8_t> icc) {
  Monitor monitor;
  if (icc.empty()) return monitor;
  monitor.space =
      color::Space::kRec2020;  // wider than screens, so that nothing is cut before the profile says
  monitor.nodes = kMonitorNodes;
  Result<std::vector<float>> table = codec::MonitorTable(icc, monitor.space, kMonitorNodes);
  if (!table.ok()) return table.error();
  monitor.table = std::move(table).value();
  return monitor;
}

Result<Monitor> ProofOn(std::span<const std::uint8_t> monitor_icc, std::span<const std::uint8_t> proof_icc) {
  Monitor monitor;
  // Delivered colours lie in sRGB; only a monitor of its own may show a scan's that lie beyond.
  if (!monitor_icc.empty()) monitor.space = color::Space::kRec2020;
  monitor.nodes = kProofNodes;
  Result<codec::ProofTable> tables = codec::MonitorProof(monitor_icc, proof_icc, monitor.space, kProofNodes);
  if (!tables.ok()) return tables.error();
  monitor.table = std::move(tables->rgb);
  monitor.beyond = std::move(tables->beyond);
  return monitor;
}

namespace {

// Linear along each axis within the cell of a table of kChannels floats for each node.
template <int kChannels>
void Between(const std::vector<float>& table, int n, const float rgb[3], float* out) {
  int low[3];
  float part[3];
  for (int c = 0; c < 3; ++c) {
    const float at = std::clamp(rgb[c], 0.0f, 1.0f) * static_cast<float>(n - 1);
    low[c] = std::min(n - 2, static_cast<int>(at));
    part[c] = at - static_cast<float>(low[c]);
  }
  const float* t = table.data() + kChannels * ((static_cast<std::size_t>(low[0]) * n + low[1]) * n + low[2]);
  const std::size_t r = kChannels * static_cast<std::size_t>(n) * n,
                    g = kChannels * static_cast<std::size_t>(n), b = kChannels;
  for (int c = 0; c < kChannels; ++c, ++t) {
    const auto along = [&](const float* p) { return p[0] + part[2] * (p[b] - p[0]); };
    const float a0 = along(t), a1 = along(t + g), b0 = along(t + r), b1 = along(t + r + g);
    const float a = a0 + part[1] * (a1 - a0), d = b0 + part[1] * (b1 - b0);
    out[c] = a + part[0] * (d - a);
  }
}

}  // namespace

void ThroughMonitor(const Monitor& monitor, float rgb[3]) {
  const float in[3] = {rgb[0], rgb[1], rgb[2]};
  Between<3>(monitor.table, monitor.nodes, in, rgb);
}

bool BeyondProof(const Monitor& monitor, const float rgb[3]) {
  if (monitor.beyond.empty()) return false;
  float away = 0;
  Between<1>(monitor.beyond, monitor.nodes, rgb, &away);
  return away > kSeenAway;
}

void ToScreen(const Monitor& monitor, float* rgbx, std::size_t count, int x, int y, std::uint32_t* argb) {
  if (monitor.nodes > 0)
    for (std::size_t i = 0; i < count; ++i) ThroughMonitor(monitor, rgbx + 4 * i);
  std::uint8_t rgb[3 * kAtOnce];
  for (std::size_t done = 0; done < count; done += kAtOnce) {
    const std::size_t part = std::min(kAtOnce, count - done);
    render::Quantise8(rgbx + 4 * done, part, true, static_cast<std::size_t>(x) + done,
                      static_cast<std::size_t>(y), rgb);
    for (std::size_t i = 0; i < part; ++i)
      argb[done + i] = 0xff000000u | static_cast<std::uint32_t>(rgb[3 * i]) << 16 |
                       static_cast<std::uint32_t>(rgb[3 * i + 1]) << 8 | rgb[3 * i + 2];
  }
}

image::RgbF LinearOf(const image::RgbU8& srgb) {
  static const std::vector<float> decoded = [] {
    std::vector<float> v;
    for (int i = 0; i < 256; ++i)
      v.push_back(static_cast<float>(color::Decode(color::Space::kSrgb, i / 255.0)));
    return v;
  }();
  static const Mat3 matrix = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  image::RgbF linear(srgb.width(), srgb.height());
  for (std::size_t i = 0; i < srgb.data().size(); i += 3) {
    const std::uint8_t* p = srgb.data().data() + i;
    const Vec3 v = Mul(matrix, Vec3{decoded[p[0]], decoded[p[1]], decoded[p[2]]});
    for (int c = 0; c < 3; ++c) linear.data()[i + c] = static_cast<float>(v[c]);
  }
  return linear;
}

void ShowSrgb(const image::RgbU8& srgb, const Monitor& monitor, Shown& out) {
  if (monitor.nodes > 0) {
    Sampled sampled;
    sampled.linear = LinearOf(srgb);
    return ShowDisplay(sampled, monitor, false, false, out);
  }
  out.width = srgb.width();
  out.height = srgb.height();
  out.argb.resize(srgb.pixels());
  out.marks.clear();
  const std::uint8_t* p = srgb.data().data();
  for (std::uint32_t& pixel : out.argb) {
    pixel =
        0xff000000u | static_cast<std::uint32_t>(p[0]) << 16 | static_cast<std::uint32_t>(p[1]) << 8 | p[2];
    p += 3;
  }
}

std::uint8_t MarksOf(const float s[3], bool drawn_in) {
  const float most = std::max({s[0], s[1], s[2]}), least = std::min({s[0], s[1], s[2]});
  std::uint8_t marks = 0;
  // Within half an 8-bit step of the ends (sRGB: 0.9966 encodes to 254.6, 1.5e-4 to 0.5).
  if (most >= 0.9966f) marks |= kClippedHigh;
  if (most <= 1.5e-4f) marks |= kClippedLow;
  if (drawn_in ? most > kDark && (most - least) / most > kDrawnIn : least < -kDark || most > 1 + kDark)
    marks |= kOutOfGamut;
  return marks;
}

void MarkProof(const Monitor& monitor, const float coded[3], std::uint8_t& marks) {
  if (monitor.beyond.empty()) return;
  marks = static_cast<std::uint8_t>((marks & ~kOutOfGamut) | (BeyondProof(monitor, coded) ? kOutOfGamut : 0));
}

void Prepare(const Sampled& sampled, bool marks, Shown& out) {
  out.width = sampled.linear.width();
  out.height = sampled.linear.height();
  out.argb.resize(sampled.linear.pixels());
  out.marks.resize(marks ? sampled.linear.pixels() : 0);
}

void ClearOutside(const Sampled& sampled, Shown& out) {
  if (sampled.inside.empty()) return;
  for (std::size_t i = 0; i < out.argb.size(); ++i) {
    if (sampled.inside[i] != 0) continue;
    out.argb[i] = 0;
    if (!out.marks.empty()) out.marks[i] = 0;
  }
}

void ShowDisplay(const Sampled& sampled, const Monitor& monitor, bool proof, bool marks, Shown& out) {
  Prepare(sampled, marks, out);
  const int width = out.width, height = out.height;
  const EncodeTable& encode = TableOf(monitor.space);
  const bool srgb_screen = monitor.space == color::Space::kSrgb;
  const std::size_t blocks = (static_cast<std::size_t>(height) + kRowsAtOnce - 1) / kRowsAtOnce;
  ParallelFor(blocks, {}, [&](std::size_t block) {
    std::vector<float> rgbx(4 * static_cast<std::size_t>(width));
    const int y0 = static_cast<int>(block) * kRowsAtOnce, y1 = std::min(height, y0 + kRowsAtOnce);
    for (int y = y0; y < y1; ++y) {
      const float* in = sampled.linear.row(y);
      const std::size_t row = static_cast<std::size_t>(y) * width;
      for (int x = 0; x < width; ++x, in += 3) {
        float s[3], shown[3] = {in[0], in[1], in[2]};
        if (srgb_screen || proof || marks) {
          SrgbFromRec2020().Times(in, s);
          if (marks) out.marks[row + x] = MarksOf(s, false);
          if (srgb_screen) {
            std::copy(s, s + 3, shown);
          } else if (proof) {
            for (float& v : s) v = std::clamp(v, 0.0f, 1.0f);
            Rec2020FromSrgb().Times(s, shown);
          }
        }
        float* coded = rgbx.data() + 4 * static_cast<std::size_t>(x);
        for (int c = 0; c < 3; ++c) coded[c] = encode(shown[c]);
        if (marks) MarkProof(monitor, coded, out.marks[row + x]);
      }
      ToScreen(monitor, rgbx.data(), static_cast<std::size_t>(width), 0, y, out.argb.data() + row);
    }
  });
  ClearOutside(sampled, out);
}

}  // namespace samelight::preview
