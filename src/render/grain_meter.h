// Measures grain on the flat places of scans.
#pragma once

#include <vector>

#include "base/cancel.h"
#include "base/result.h"
#include "image/raster.h"
#include "record/grain.h"

namespace samelight::render {

// Feed it scans at full size, one after the other, then ask for the model. About 2000 patches of 48 x 48 px
// are looked at in each scan; what is clipped, textured or has edges is left out, by the energy of 8 x 8 px
// means against that of pixels and by the shape of the histogram; of what remains the most frequent strength
// at each tone counts (half-sample mode: Bickel and Fruehwirth 2006, Comput. Stat. Data Anal. 50, 3500), so
// that texture that slipped through does not. Texture as fine as grain is told by its being in all layers,
// and by strengths that leave the smooth curve against tone. Needs the scan's own pixels: a resized, denoised
// or sharpened scan shows its own grain, which is then what is measured. Scans of another pixel size than
// most are ignored. One thread per object.
class GrainMeter {
 public:
  // `scan`: linear BT.2020, D65, display-referred. `film_long_side_mm` > 0: of the film picture. NaN pixels
  // drop their patch. Asked to stop (looked at once a patch) the rest of the scan is left out.
  void Add(const image::RgbF& scan, double film_long_side_mm, const Cancel& cancel = {});
  // What another one has found, as if its scans had been added here.
  void Add(const GrainMeter& other);
  // kNothingToDo when fewer than 24 flat patches were found.
  Result<record::GrainModel> Model() const;

 private:
  struct Patch {
    float density[3], sigma[3];
    float red_green, green_blue, red_blue;
    float lumpiness;           // variance of block means x 64 / variance of pixels
    std::vector<float> power;  // radial, variance 1
  };
  static double Alike(const Patch& patch);  // mean correlation of its layers
  struct Group {
    int long_side_px = 0;
    double film_long_side_mm = 0;
    std::vector<Patch> patches;
  };
  Group& GroupOf(int long_side_px, double film_long_side_mm);  // of scans with pixels of that size
  std::vector<Group> groups_;
};

}  // namespace samelight::render
