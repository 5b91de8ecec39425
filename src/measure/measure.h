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
  image::RgbF pixels;                  // linear BT.2020, D65, as decoded (scene- or display-referred)
  image::PlaneU8 labels;               // record::RegionKind per pixel, same size
  image::PlaneU8 faces;                // 0: none, 1 + n: skin that belongs to face n
};

// Finds faces. One per worker thread; not thread safe. Uses the network of models when the model file is there, a
// gradient-histogram detector otherwise (KindOfModel tells).
class FaceFinder {
 public:
  // `model_file` may be missing.
  static Result<std::unique_ptr<FaceFinder>> Open(const std::filesystem::path& model_file);
  virtual ~FaceFinder() = default;
  // `srgb`: display-encoded 8-bit picture.
  virtual std::vector<record::Face> Find(const image::RgbU8& srgb) = 0;
  virtual std::string KindOfModel() const = 0;
};

struct MeasuredPicture {
  record::Measured measured;
  Analysis analysis;
};

// Measures a decoded picture of any size (it is shrunk to analysis size first; faces use up to 2048 px).
// `linear`: linear BT.2020. `photo` gives role, encoding and raw colour. Takes `faces` or nullptr.
Result<MeasuredPicture> MeasurePicture(const image::RgbF& linear, const record::Photo& photo, FaceFinder* faces);

// Statistics of regions for given pixels and labels; also used on rendered pictures.
std::vector<record::RegionStat> RegionStatistics(const image::RgbF& linear, const image::PlaneU8& labels,
                                                 const image::PlaneU8& faces);

// Neutral 8-bit sRGB rendering of a linear picture for looking, faces and features: exposure from the picture's own
// median (scene-referred) and a plain film-like curve; display-referred pictures are only encoded.
image::RgbU8 NeutralRendering(const image::RgbF& linear, bool scene_referred);

}  // namespace samelight::measure
