#include "measure/face_net.h"

namespace samelight::measure {

Result<std::unique_ptr<FaceFinder>> FaceFinder::Open(const std::filesystem::path& model_file) {
  std::error_code error;
  if (std::filesystem::is_regular_file(model_file, error)) return OpenFaceNet(model_file);
  return OpenGradientFaces();
}

}  // namespace samelight::measure
