#include "image/resize.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "image/alone.h"
#include "image/shrink.h"

namespace samelight::image {
namespace {

template <class R>
cv::Mat View(const R& r) {
  return cv::Mat(r.height(), r.width(), CV_32FC(R::kChannelCount), const_cast<float*>(r.data().data()));
}

template <class R>
R Resized(const R& in, int width_px, int height_px) {
  if (width_px == in.width() && height_px == in.height()) return in;
  WorkAlone();
  R out(width_px, height_px);
  cv::Mat target = View(out);
  const bool shrink = width_px <= in.width() && height_px <= in.height();
  cv::resize(View(in), target, target.size(), 0, 0, shrink ? cv::INTER_AREA : cv::INTER_CUBIC);
  return out;
}

template <class R>
R Shrunk(const R& in, int long_side_px) {
  const auto [width, height] = SizeWithin(in.width(), in.height(), long_side_px);
  return Resized(in, width, height);
}

template <class R>
R Blurred(const R& in, double sigma_px) {
  R out(in.width(), in.height());
  cv::Mat target = View(out);
  cv::GaussianBlur(View(in), target, cv::Size(0, 0), sigma_px, sigma_px, cv::BORDER_REFLECT_101);
  return out;
}

}  // namespace

RgbF ShrinkTo(const RgbF& in, int long_side_px) { return Shrunk(in, long_side_px); }
PlaneF ShrinkTo(const PlaneF& in, int long_side_px) { return Shrunk(in, long_side_px); }
RgbF ResizeTo(const RgbF& in, int width_px, int height_px) { return Resized(in, width_px, height_px); }
RgbF Blur(const RgbF& in, double sigma_px) { return Blurred(in, sigma_px); }
PlaneF Blur(const PlaneF& in, double sigma_px) { return Blurred(in, sigma_px); }

PlaneF Luminance(const RgbF& rec2020_linear) {
  PlaneF out(rec2020_linear.width(), rec2020_linear.height());
  const float* in = rec2020_linear.data().data();
  float* y = out.data().data();
  for (std::size_t i = 0; i < out.pixels(); ++i, in += 3)
    y[i] = 0.2627f * in[0] + 0.6780f * in[1] + 0.0593f * in[2];
  return out;
}

}  // namespace samelight::image
