// Faces by a small single-shot network.
#pragma once

#include <filesystem>
#include <memory>

#include "measure/measure.h"

namespace samelight::measure {

// Reads the network (ONNX: 256 x 256 x 3 input, 896 anchors) and tries it once. kNotFound when there is no
// such file, kDamaged when it is not that network.
Result<std::unique_ptr<FaceFinder>> OpenFaceNet(const std::filesystem::path& model_file);

// Faces by gradient histograms; kUnsupported when built without the library that does it.
Result<std::unique_ptr<FaceFinder>> OpenGradientFaces();

}  // namespace samelight::measure
