// Pixels in memory, rows from top to bottom, channels interleaved, no padding between rows.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace samelight::image {

// `kChannels` values of type T per pixel. Copies copy the pixels. Access outside is a programmer's error.
template <class T, int kChannels>
class Raster {
 public:
  static constexpr int kChannelCount = kChannels;
  Raster() = default;
  Raster(int width_px, int height_px) { Resize(width_px, height_px); }
  // Keeps the allocation when it is large enough; contents are unspecified afterwards.
  void Resize(int width_px, int height_px) {
    width_ = width_px;
    height_ = height_px;
    data_.resize(static_cast<std::size_t>(width_px) * height_px * kChannels);
  }
  int width() const { return width_; }
  int height() const { return height_; }
  bool empty() const { return data_.empty(); }
  std::size_t pixels() const { return static_cast<std::size_t>(width_) * height_; }
  T* row(int y) { return data_.data() + static_cast<std::size_t>(y) * width_ * kChannels; }
  const T* row(int y) const { return data_.data() + static_cast<std::size_t>(y) * width_ * kChannels; }
  T* at(int x, int y) { return row(y) + static_cast<std::size_t>(x) * kChannels; }
  const T* at(int x, int y) const { return row(y) + static_cast<std::size_t>(x) * kChannels; }
  std::vector<T>& data() { return data_; }
  const std::vector<T>& data() const { return data_; }

 private:
  int width_ = 0, height_ = 0;
  std::vector<T> data_;
};

using RgbF = Raster<float, 3>;
using RgbU8 = Raster<std::uint8_t, 3>;
using RgbU16 = Raster<std::uint16_t, 3>;
using PlaneF = Raster<float, 1>;
using PlaneU8 = Raster<std::uint8_t, 1>;

}  // namespace samelight::image
