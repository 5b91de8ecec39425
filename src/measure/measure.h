// What one picture says about itself.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/result.h"
#include "image/raster.h"
#include "record/photo.h"
#include "record/region.h"

namespace samelight::measure {

// Long side of the analysis picture, px.
inline constexpr int kAnalysisLongSide = 1024;

// The picture at analysis size and what was found in it; written to the cache, one file per photograph.
struct Analysis {
  image::RgbF pixels;     // linear BT.2020, D65, as decoded (scene- or display-referred)
  image::PlaneU8 labels;  // record::RegionKind per pixel, same size
  image::PlaneU8 faces;   // 0: none, 1 + n: skin that belongs to face n
};

// Finds faces. One per worker thread; not thread safe. Uses a small network when the model file is there, a
// gradient-histogram detector otherwise. What it finds it finds surely: a box that is no face would seed a
// skin region.
class FaceFinder {
 public:
  // `model_file` (ONNX, see face_net.h) may be missing. kDamaged: it is there but is not that network.
  // kUnsupported: it is missing and the program was built without the other detector.
  static Result<std::unique_ptr<FaceFinder>> Open(const std::filesystem::path& model_file);
  virtual ~FaceFinder() = default;
  // `srgb`: upright display-encoded 8-bit picture, at best about 2048 px. Upright faces only; empty when
  // there are none.
  virtual std::vector<record::Face> Find(const image::RgbU8& srgb) = 0;
  // "network" or "gradient histograms".
  virtual std::string KindOfModel() const = 0;
};

struct MeasuredPicture {
  record::Measured measured;
  Analysis analysis;
};

// Measures a decoded picture of any size (it is shrunk to analysis size first; faces use up to 2048 px).
// `linear`: linear BT.2020; NaN and infinite values count as 0. `photo` gives role (borders, dust: scans
// only), encoding and raw colour. `faces` may be nullptr: no faces, and then no skin and no dark cloth.
// Errors: kUnsupported (a side below 16 px), kTooLarge (memory), kInternal. A blank, burnt or unsharp picture
// is no error; Measured::note says so. Thread safe, but for `faces`.
Result<MeasuredPicture> MeasurePicture(const image::RgbF& linear, const record::Photo& photo,
                                       FaceFinder* faces);

// Statistics of regions for given pixels (linear BT.2020) and labels of one size; also used on rendered
// pictures. One for each kind with at least 48 pixels, kOther too and kMasked not; for skin another one for
// each face. Pixels that are not finite do not count. Planes of different sizes give nothing (`faces`: no
// statistics by face).
std::vector<record::RegionStat> RegionStatistics(const image::RgbF& linear, const image::PlaneU8& labels,
                                                 const image::PlaneU8& faces);

// Neutral 8-bit sRGB rendering of a linear picture for looking, faces and features: exposure from the
// picture's own log-mean (scene-referred) and a plain film-like curve; display-referred pictures are only
// encoded. What lies outside sRGB is clipped; NaN becomes 0.
image::RgbU8 NeutralRendering(const image::RgbF& linear, bool scene_referred);

}  // namespace samelight::measure
