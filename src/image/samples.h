// Pixels as a file stores them, which become linear where they are read: a third or half of the memory of
// floats, and no pass over the picture.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>

#include "base/cancel.h"
#include "base/matrix.h"
#include "image/raster.h"

namespace samelight::image {

// 8 or 16 bits a value; one of the two pictures has pixels, or none.
struct Samples {
  RgbU8 eight;
  RgbU16 sixteen;
  // `count` pixels of either as they are stored to `count` pixels of linear BT.2020, interleaved.
  std::function<void(const void* stored, std::size_t count, float* linear)> to_linear;
  int width() const { return eight.empty() ? sixteen.width() : eight.width(); }
  int height() const { return eight.empty() ? sixteen.height() : eight.height(); }
  bool empty() const { return eight.empty() && sixteen.empty(); }
};

// How 16-bit linear values become floats: matrix * (stored - foot) * factor.
struct LinearSixteen {
  float foot = 0, factor = 1.0f / 65535;
  Mat3 matrix = kIdentity3;
  // Vector code chosen at run time; all versions agree within 1e-6 of the largest value. A pixel's result
  // does not depend on its neighbours or its place. Any count, no alignment; thread safe.
  void operator()(const std::uint16_t* stored, std::size_t count, float* linear) const;
};

// Samples of that kind.
Samples SixteenLinear(RgbU16 pixels, const LinearSixteen& how);

// A picture to be read in linear BT.2020, whichever way it is kept. Does not own it. Several threads may read
// when Samples::to_linear may be called by several.
class Source {
 public:
  // NOLINTNEXTLINE(google-explicit-constructor): whatever takes a source takes a picture.
  Source(const RgbF& linear) : linear_(&linear) {}
  // NOLINTNEXTLINE(google-explicit-constructor)
  Source(const Samples& samples) : samples_(&samples) {}
  int width() const { return linear_ != nullptr ? linear_->width() : samples_->width(); }
  int height() const { return linear_ != nullptr ? linear_->height() : samples_->height(); }
  bool empty() const { return linear_ != nullptr ? linear_->empty() : samples_->empty(); }
  // `count` pixels from (x, y) on: where they lie, or in `room` (3 * count floats).
  const float* Row(int x, int y, int count, float* room) const {
    if (linear_ != nullptr) return linear_->at(x, y);
    const void* stored = samples_->eight.empty() ? static_cast<const void*>(samples_->sixteen.at(x, y))
                                                 : samples_->eight.at(x, y);
    samples_->to_linear(stored, static_cast<std::size_t>(count), room);
    return room;
  }
  // Says that these pixels will be read soon, so that memory can bring them: a strip's rows lie too far apart
  // for the processor to see the next one coming. Outside the picture: nothing.
  void Expect(int x, int y, int count) const;

 private:
  const RgbF* linear_ = nullptr;
  const Samples* samples_ = nullptr;
};

// All of it in floats. Looks at nothing but `source`; `out` keeps its memory when it is large enough.
// Unfinished after a cancel.
void MakeLinear(const Source& source, RgbF& out, const Cancel& cancel = {});

}  // namespace samelight::image
