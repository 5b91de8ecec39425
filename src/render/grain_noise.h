// Rows of shaped noise: the arithmetic of grain, apart from what the film says.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace samelight::render {

// Symmetric taps in 1/32768: h[0] in the middle, h[k] at +-k. Their sum is about 1, none is negative.
inline constexpr int kMostRadius = 16;
struct Taps {
  int radius = 0;
  std::array<std::int16_t, kMostRadius + 1> h{};
};

// How white noise becomes grain: the sum of two terms, each filtered by its taps along columns and along
// rows.
struct NoiseShape {
  struct Term {
    Taps taps;
    float strength = 0;  // for white noise of variance 1
  };
  std::array<Term, 2> term;  // the second has the larger radius
  // layer = mix * white, lower triangular: gives the correlation between the layers.
  std::array<std::array<float, 3>, 3> mix{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
  // Encoded change per unit noise for R, G, B against the encoded value 0..1, eight cubic pieces each:
  // [power][8 x channel + piece]; a fourth channel of zeros follows.
  alignas(64) std::array<std::array<float, 32>, 4> gain{};
  int radius() const { return term[1].taps.radius; }
};

inline constexpr int kGainPieces = 8;

// Adds grain to the rows of one strip of a picture, from the top down. The noise of a pixel is a function of
// seed, x and y alone, so strips, threads and order of frames do not matter. Vector targets agree within
// 1e-5. One thread per object; memory is kept between strips.
class NoiseStrip {
 public:
  // Strip of columns x0 .. x0+width-1, rows from y0. Width at most 4096.
  void Begin(const NoiseShape& shape, std::uint64_t seed, int x0, int width, int y0 = 0);
  // The next row: `rgbx` holds `width` encoded pixels of four floats, changed in place.
  void Add(float* rgbx);

 private:
  std::int16_t* Slot(int y);
  void MakeRow(int y);
  const NoiseShape* shape_ = nullptr;
  std::uint64_t seed_ = 0;
  int x0_ = 0, width_ = 0, stride_ = 0, depth_ = 0, next_ = 0;
  // Rows of mixed white noise; what the filter along the columns makes of them for one row.
  std::vector<std::int16_t> ring_, down_;
};

// White noise of one pixel and layer, as used above: mean 0, variance 1, nearly Gaussian (the sum of four
// bytes of a hash).
float WhiteNoise(std::uint64_t seed, int x, int y, int layer);

}  // namespace samelight::render
