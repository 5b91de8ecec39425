// Makes and writes one frame or one scan with its truth.
#pragma once

#include <filesystem>

#include "base/result.h"
#include "simulate/camera.h"
#include "simulate/studio.h"

namespace samelight::simulate {

// Long side of the truth pictures.
inline constexpr int kTruthLongSidePx = 800;
// Digital frames are 3:2.
inline constexpr double kFrameAspect = 1.5;

struct FrameFacts {
  Vec3 as_shot_neutral{}, true_neutral{};  // camera values, green 1
  std::string truth, skin;                 // files relative to the session folder; skin may be empty
};

// `mean` is the lab's setting for the light; `stock` and `lab` those of its film.
Result<FrameFacts> WriteFrame(const std::filesystem::path& dir, const SessionOptions& options,
                              const Plan& plan, int index, const Camera& camera, const Studio& studio,
                              const Stock& stock, const Lab& lab, const LabSetting& mean);

struct ScanFacts {
  double nudge_de = 0;  // CIEDE2000 between the scan with and without its own correction and exposure error
  std::string truth;
};

// `mean` is the light's setting when the roll has the light's stock, else null: then the scan's own automatic
// setting is the base.
Result<ScanFacts> WriteScan(const std::filesystem::path& dir, const SessionOptions& options, const Plan& plan,
                            int index, const Studio& studio, const Stock& stock, const Lab& lab,
                            const LabSetting* mean);

}  // namespace samelight::simulate
