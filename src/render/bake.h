// A correction baked for speed: a linear part, a shaper per channel, and a table of encoded output colours.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <vector>

#include "base/matrix.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "record/correction.h"

namespace samelight::render {

// Number of cubic pieces of a shaper. 16 floats fill one 512-bit register or two 256-bit ones.
inline constexpr int kShaperPieces = 16;

// The map from a decoded pixel p (linear BT.2020, D65) to encoded output:
//   x = min(max(matrix * p, 0), 1) + ease           exact: M1, exposure, white and touch for scene-referred
//   sources u = log2 x, with the fraction m of its octave bent to m (4 - m) / 3, which has no kink at powers
//   of two t = the cubic piece of (u + 127) * u_scale + u_bias, in table steps, within 0 .. nodes-1 out =
//   tetrahedral interpolation of `table` at t
// The table's nodes are placed by inverting exactly this shaper, so all of the bake's error is the
// interpolation's.
struct Baked {
  int nodes = 0;
  std::array<std::array<float, 3>, 3> matrix{};
  std::array<float, 3> ease{};  // > 0
  std::array<float, 3> u_scale{}, u_bias{};
  // shaper[channel][power][piece]: value = ((c3 f + c2) f + c1) f + c0, f in [0, 1).
  alignas(64) std::array<std::array<std::array<float, kShaperPieces>, 4>, 3> shaper{};
  // nodes^3 entries of four floats (R, G, B, share), B running fastest. Colours are encoded, 1 is full scale,
  // and may pass 0..1. The share is 0, or that of skin in a map made for skin.
  std::vector<float> table;
  float* entries() { return table.data() + lead_; }
  const float* entries() const { return table.data() + lead_; }
  // Allocates `count`^3 entries, the first on a 64-byte boundary.
  void SetNodes(int count);

  Baked() = default;
  Baked(const Baked&) = delete;  // the place of the first entry depends on the allocation
  Baked& operator=(const Baked&) = delete;

 private:
  std::size_t lead_ = 0;
};

// Encoded value of the square root of linear, in cubic pieces over 0..kMostRoot.
inline constexpr int kEncoderPieces = 32;
inline constexpr float kMostRoot = 1.25f;
struct Encoder {
  alignas(64) std::array<std::array<float, kEncoderPieces>, 4> piece{};
};

void FillEncoder(color::Space space, Encoder& encoder);
// Encoded value of a root of 0..kMostRoot.
inline float EncodeRoot(const Encoder& encoder, float root) {
  const float v = root * (kEncoderPieces / kMostRoot);
  const int piece = std::min(static_cast<int>(v), kEncoderPieces - 1);
  const float f = v - static_cast<float>(piece);
  const auto& p = encoder.piece;
  return ((p[3][piece] * f + p[2][piece]) * f + p[1][piece]) * f + p[0][piece];
}

// What one frame needs. Where skin follows the film at its own share, the two looks are baked apart and mixed
// in linear light: one table cannot run along the layers of both.
struct BakedCorrection {
  Baked film;
  bool blended = false;
  // Only when blended; the tables then hold square roots of linear output instead of encoded values.
  Baked skin;
  Encoder encoder;
};

// Fills `baked`, reusing its memory. Covered inputs: scene-referred 0..16 (4 EV above white, whatever the
// exposure of the correction), display-referred 0..1; what is outside is clamped. Error against Exact below
// over covered inputs: see bake_test.cc. Time: render_bench,
// BakeOnly. Not thread safe on one `baked`. `side_by_side`: the two tables of a blended one at once, for a
// caller that works on one picture with all workers.
void Bake(const look::Resolved& resolved, color::Space space, int nodes, BakedCorrection& baked,
          bool side_by_side = false);

// The linear BT.2020 colour that each node of a table stands for: nodes^3 times R, G, B, in the order of its
// entries. A matrix that cannot be inverted gives zeros.
std::vector<float> NodeInputs(const Baked& baked);

// The reference: the same map in double precision. Encoded, clipped to 0..1.
Vec3 Exact(const look::Resolved& resolved, color::Space space, const Vec3& rec2020_linear);

}  // namespace samelight::render
