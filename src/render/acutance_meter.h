// How sharp pictures are: detail by frequency, grain and noise taken off.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "image/raster.h"

namespace samelight::render {

// Feed it pictures of one kind (scans, or frames as they would be delivered at the scans' size), then compare
// two. Looks at patches of 32 x 32 px of encoded luma, at up to 1500 places a picture, for the power of their
// rows and columns at k / 32 cycles a pixel (Hann window). The quietest tenth of the patches shows what grain
// or noise gives at each frequency; it is taken off that of the quarter with the most coarse detail. One
// thread per object.
class AcutanceMeter {
 public:
  static constexpr int kBins = 16;
  void Add(const image::RgbU8& encoded);
  // Detail against frequency, at k / 32 cycles a pixel for k of 0..15, divided by that of k of 2..4; none
  // when there are fewer than 40 patches. Not a probability; only ratios of two meters mean something.
  std::optional<std::array<double, kBins>> Detail() const;

 private:
  std::vector<std::array<float, kBins>> patches_;
};

// The gain (RenderOptions::acutance) that brings `frames` to `scans`: least squares on the ratio of
// amplitudes between 0.16 and 0.38 cycles a pixel, -0.8 to 1.5; 0 when either has too little detail. Pictures
// of different subjects have spectra of one shape (Field 1987, J. Opt. Soc. Am. A 4, 2379), so the two need
// not show the same things.
double AcutanceGain(const AcutanceMeter& scans, const AcutanceMeter& frames);

}  // namespace samelight::render
