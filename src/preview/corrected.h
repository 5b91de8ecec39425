// A frame with its correction, on the screen, fast enough to be dragged.
#pragma once

#include <optional>

#include "preview/screen.h"
#include "record/correction.h"
#include "render/bake.h"

namespace samelight::preview {

// Keeps its table while the correction stays the same; Forget() when the monitor changes. One thread at a
// time; inside it uses all workers.
class Corrected {
 public:
  // `draft`: a coarse table (mean error below 0.3 CIEDE2000, see corrected_test.cc) made in a few ms;
  // otherwise that of the delivered files (render::BakeWithin).
  void Show(const Sampled& sampled, const record::Correction& correction, const Monitor& monitor, bool draft,
            bool marks, Shown& out);

  // The monitor is another one.
  void Forget() { of_.reset(); }

 private:
  void Bake(const record::Correction& correction, const Monitor& monitor, bool draft, bool fuse);
  render::BakedCorrection baked_;
  std::optional<record::Correction> of_;
  color::Space space_ = color::Space::kSrgb;
  bool draft_ = false;
  bool fused_ = false;  // the table already holds the monitor's values
};

}  // namespace samelight::preview
