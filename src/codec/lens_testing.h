// A lens that the installed database knows, for tests.
#pragma once

#include <lensfun/lensfun.h>

#include <cmath>
#include <optional>
#include <string>

#include "record/photo.h"

namespace samelight::codec::testing {

struct KnownLens {
  record::Capture capture;
  lfLensCalibDistortion distortion;
  lfLensCalibVignetting vignetting;
  std::string lens_maker;
};

// The first camera and lens for which names alone lead to calibrated distortion (ptlens) and vignetting.
inline std::optional<KnownLens> AnyKnownLens() {
  lfDatabase database;
  if (!database.LoadDirectory((SAMELIGHT_LENS_DATA + std::to_string(LF_MAX_DATABASE_VERSION)).c_str()))
    return {};
  for (const lfCamera* const* camera = database.GetCameras(); *camera != nullptr; ++camera) {
    const lfLens** lenses = database.FindLenses(*camera, nullptr, nullptr);
    if (lenses == nullptr) continue;
    for (int i = 0; lenses[i] != nullptr; ++i) {
      const lfLens& lens = *lenses[i];
      if (!lens.CalibDistortion || !lens.CalibVignetting || lens.CalibTCA || lens.Type != LF_RECTILINEAR)
        continue;
      if (std::abs(lens.CropFactor - (*camera)->CropFactor) > 0.01) continue;
      const lfLensCalibVignetting& v = *lens.CalibVignetting[0];
      for (int d = 0; lens.CalibDistortion[d] != nullptr; ++d) {
        const lfLensCalibDistortion& model = *lens.CalibDistortion[d];
        if (model.Model != LF_DIST_MODEL_PTLENS || model.Focal != v.Focal) continue;
        KnownLens found;
        found.capture.make = (*camera)->Maker;
        found.capture.body = (*camera)->Model;
        found.capture.lens = lens.Model;
        found.capture.focal_mm = v.Focal;
        found.capture.aperture = v.Aperture;
        found.capture.focus_m = v.Distance;
        found.distortion = model;
        found.vignetting = v;
        found.lens_maker = lens.Maker;
        lf_free(lenses);
        return found;
      }
    }
    lf_free(lenses);
  }
  return {};
}

}  // namespace samelight::codec::testing
