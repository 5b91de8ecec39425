// The lab: a film scanner with its own eyes, and the way from negative densities to a positive picture.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "image/raster.h"
#include "simulate/film.h"

namespace samelight::simulate {

// What the lab may turn for one scan, in units of the negative's density after the scanner's masking.
struct LabSetting {
  Vec3 shift{0, 0, 0};  // per channel: density and colour
  double contrast = 1;  // factor on the slope
  Vec3 black{0, 0, 0};  // display-linear level that becomes black
};

// A scanner and its house style, for one stock. The unseen world's lab has a scanner of narrow lamps, another
// paper-like curve, and an automat that integrates by the middle of the picture and holds strong casts back.
class Lab {
 public:
  Lab(const Stock& stock, std::uint64_t seed, double push_ev = 0, World world = World::kUsual);

  // Densities after masking, relative to a grey exposed one stop over: what the lab's corrections see.
  // Interpolated from a table over dye amounts 0..3; within 0.003 of the spectral sum.
  image::RgbF Scan(const image::RgbF& dyes) const;
  // The same for one pixel, by the spectral sum.
  Vec3 ScanExactly(const Vec3& dyes) const;

  // The correction that the picture asks for: a part of its mean density and cast, the contrast, the black
  // point. Half of what counts as its cast is the content's (strong colours less), half what an operator sees
  // on greys: `grey_card` holds the densities of a grey card in the same light.
  LabSetting Automatic(const image::RgbF& densities, const Vec3& grey_card) const;

  // Positive, display-linear sRGB 0..1.
  image::RgbF Print(const image::RgbF& densities, const LabSetting& setting) const;

 private:
  LabSetting AutomaticByMiddle(const image::RgbF& small, const Vec3& grey_card) const;
  Vec3 Densities(const Vec3& dyes) const;  // as the scanner sees them, above the unexposed film

  Stock stock_;
  World world_;
  Sensitivities eyes_;
  Vec3 unexposed_{}, grey_{};
  Mat3 masking_ = kIdentity3;
  FastCurve paper_;
  Vec3 slope_{1, 1, 1};  // and its slope: a little crossed, as papers are
  Vec3 house_{};         // the house's own colour: shift of each channel
  double aim_ = 0;
  static constexpr int kSide = 40;
  std::vector<std::array<float, 3>> table_;
};

}  // namespace samelight::simulate
