// The only file that includes dlib: its headers take seconds to compile.
#include "measure/face_net.h"

#if __has_include(<dlib/image_processing/frontal_face_detector.h>)

#include <dlib/array2d.h>
#include <dlib/image_processing/frontal_face_detector.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace samelight::measure {
namespace {

// Faces of 80 px and more are found (the detector's window), so this is a face of 1/16 of the long side.
constexpr int kLongSide = 1280;
// Margin of the support vector machine that counts. Higher than the library's own 0: precision before recall,
// as a box that is no face would seed a skin region on anything.
constexpr double kLeastMargin = 0.3;

// Histograms of oriented gradients with a linear classifier (Dalal, Triggs 2005; King 2015 for the training).
class GradientFaces final : public FaceFinder {
 public:
  GradientFaces() : detector_(dlib::get_frontal_face_detector()) {}

  std::vector<record::Face> Find(const image::RgbU8& srgb) override {
    if (srgb.width() < 16 || srgb.height() < 16) return {};
    const cv::Mat picture(srgb.height(), srgb.width(), CV_8UC3,
                          const_cast<std::uint8_t*>(srgb.data().data()));
    cv::Mat grey;
    cv::cvtColor(picture, grey, cv::COLOR_RGB2GRAY);
    const double scale = static_cast<double>(kLongSide) / std::max(grey.cols, grey.rows);
    if (scale < 1) cv::resize(grey, grey, cv::Size(), scale, scale, cv::INTER_AREA);
    dlib::array2d<unsigned char> plane(grey.rows, grey.cols);
    for (int y = 0; y < grey.rows; ++y) std::copy_n(grey.ptr<unsigned char>(y), grey.cols, &plane[y][0]);
    std::vector<dlib::rect_detection> found;
    detector_(plane, found, kLeastMargin);
    std::vector<record::Face> faces;
    for (const dlib::rect_detection& d : found) {
      record::Face f;
      f.left = std::clamp<double>(static_cast<double>(d.rect.left()) / grey.cols, 0, 1);
      f.top = std::clamp<double>(static_cast<double>(d.rect.top()) / grey.rows, 0, 1);
      f.right = std::clamp<double>(static_cast<double>(d.rect.right()) / grey.cols, 0, 1);
      f.bottom = std::clamp<double>(static_cast<double>(d.rect.bottom()) / grey.rows, 0, 1);
      // A margin is no probability; the logistic curve only brings it to 0..1.
      f.score = 1 / (1 + std::exp(-2 * d.detection_confidence));
      if (f.right > f.left && f.bottom > f.top) faces.push_back(f);
    }
    return faces;
  }

  std::string KindOfModel() const override { return "gradient histograms"; }

 private:
  dlib::frontal_face_detector detector_;
};

}  // namespace

Result<std::unique_ptr<FaceFinder>> OpenGradientFaces() {
  return std::unique_ptr<FaceFinder>(std::make_unique<GradientFaces>());
}

}  // namespace samelight::measure

#else

namespace samelight::measure {

Result<std::unique_ptr<FaceFinder>> OpenGradientFaces() {
  return Error{ErrorCode::kUnsupported, "built without a face detector", "", "run scripts/fetch-assets"};
}

}  // namespace samelight::measure

#endif
