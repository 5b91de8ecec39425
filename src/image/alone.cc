#include "image/alone.h"

#include <opencv2/core.hpp>

namespace samelight::image {

void WorkAlone() {
  static const bool done = (cv::setNumThreads(1), true);
  static_cast<void>(done);
}

}  // namespace samelight::image
