#include "measure/regions.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>

namespace samelight::measure {
namespace {

using record::RegionKind;

struct Component {
  double area = 0;  // fraction of the picture
  cv::Rect box;
  double top_share = 0;  // share of the picture's width along which it touches the top
};

// One mask after another claims what no earlier one has.
class Labeller {
 public:
  Labeller(image::PlaneU8& labels, const cv::Mat& lab) : labels_(labels), lab_(lab) {
    for (int y = 0; y < lab.rows && top_ < 0; ++y)
      for (int x = 0; x < lab.cols; ++x)
        if (*labels.at(x, y) != static_cast<std::uint8_t>(RegionKind::kMasked)) {
          top_ = y;
          break;
        }
  }

  // Pixels for which `is` holds, without specks and rims, in components of at least `least` of the picture
  // that `keep` accepts, become `kind`.
  void Claim(RegionKind kind, double least, const std::function<bool(const cv::Vec3f&, int, int)>& is,
             const std::function<bool(const Component&)>& keep = {}) {
    cv::Mat mask = cv::Mat::zeros(lab_.size(), CV_8U);
    for (int y = 0; y < lab_.rows; ++y)
      for (int x = 0; x < lab_.cols; ++x)
        if (*labels_.at(x, y) == 0 && is(lab_.at<cv::Vec3f>(y, x), x, y)) mask.at<std::uint8_t>(y, x) = 255;
    const cv::Mat round = cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(5, 5));
    cv::morphologyEx(mask, mask, cv::MORPH_OPEN, round);
    cv::Mat parts, stats, centroids;
    const int count = cv::connectedComponentsWithStats(mask, parts, stats, centroids, 8);
    std::vector<int> touching(count, 0);
    for (int y = std::max(0, top_); y < std::min(lab_.rows, top_ + 8); ++y)
      for (int x = 0; x < lab_.cols; ++x) ++touching[parts.at<int>(y, x)];
    std::vector<bool> wanted(count, false);
    const auto pixels = static_cast<double>(mask.total());
    for (int i = 1; i < count; ++i) {
      Component c;
      c.area = stats.at<int>(i, cv::CC_STAT_AREA) / pixels;
      c.box = cv::Rect(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
      c.top_share = touching[i] / (8.0 * lab_.cols);
      wanted[i] = c.area >= least && (!keep || keep(c));
    }
    for (int y = 0; y < lab_.rows; ++y)
      for (int x = 0; x < lab_.cols; ++x)
        if (wanted[parts.at<int>(y, x)]) *labels_.at(x, y) = static_cast<std::uint8_t>(kind);
  }

 private:
  image::PlaneU8& labels_;
  const cv::Mat& lab_;
  int top_ = -1;  // first row that is not all masked
};

float Chroma(const cv::Vec3f& p) { return std::hypot(p[1], p[2]); }
float Hue(const cv::Vec3f& p) {
  const float h = std::atan2(p[2], p[1]) * 57.29578f;
  return h < 0 ? h + 360 : h;
}

}  // namespace

image::PlaneU8 LabelRegions(const image::RgbF& lab, const image::PlaneU8& masked, const image::PlaneU8& skin,
                            const std::vector<record::Face>& faces) {
  const int w = lab.width(), h = lab.height();
  image::PlaneU8 labels(w, h);
  for (std::size_t i = 0; i < labels.pixels(); ++i)
    labels.data()[i] = static_cast<std::uint8_t>(masked.data()[i] ? RegionKind::kMasked
                                                 : skin.data()[i] ? RegionKind::kSkin
                                                                  : RegionKind::kOther);
  cv::Mat view(h, w, CV_32FC3, const_cast<float*>(lab.data().data())), smooth;
  cv::GaussianBlur(view, smooth, cv::Size(0, 0), 1.5);
  std::vector<float> tones;
  for (int y = 0; y < h; y += 2)
    for (int x = 0; x < w; x += 2)
      if (!*masked.at(x, y)) tones.push_back(smooth.at<cv::Vec3f>(y, x)[0]);
  if (tones.size() < 100) return labels;
  const auto tone = [&](double q) {
    const auto at = tones.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(tones.size() - 1));
    std::nth_element(tones.begin(), at, tones.end());
    return *at;
  };
  const float darkest = tone(0.01), dark = tone(0.08), bright = tone(0.95), brightest = tone(0.985);

  // How much lightness varies within some 13 px.
  cv::Mat light, mean, square, rough;
  cv::extractChannel(view, light, 0);
  cv::boxFilter(light, mean, CV_32F, cv::Size(13, 13));
  cv::boxFilter(light.mul(light), square, CV_32F, cv::Size(13, 13));
  cv::sqrt(cv::max(square - mean.mul(mean), 0), rough);
  const auto roughness = [&](int x, int y) { return rough.at<float>(y, x); };

  Labeller labeller(labels, smooth);
  // Hues are those of CIELAB under D65. Leaves: about 100 (sunlit grass) to 150 degrees (needles) for the
  // leaf spectra of the USGS library; beyond them film greens up to 160.
  labeller.Claim(RegionKind::kFoliage, 0.0006, [&](const cv::Vec3f& p, int, int) {
    const float c = Chroma(p), hue = Hue(p);
    return p[0] > 10 && p[0] < 88 && c > 9 && c > 0.24f * p[0] && hue > 101 && hue < 160;
  });
  // Blue sky only: a white one cannot be told from a wall.
  labeller.Claim(
      RegionKind::kSky, 0.006,
      [&](const cv::Vec3f& p, int x, int y) {
        const float hue = Hue(p);
        return p[0] > 38 && p[0] > darkest + 20 && Chroma(p) > 8 && hue > 215 && hue < 292 &&
               roughness(x, y) < 3.5f;
      },
      [&](const Component& c) { return c.top_share > 0.04; });
  // White to ivory, in open shade bluish, over grass greenish. What runs along the top is sky, ceiling or
  // wall.
  const float white_from = std::max(66.f, brightest - 24);
  labeller.Claim(
      RegionKind::kWhiteCloth, 0.0015,
      [&](const cv::Vec3f& p, int x, int y) {
        if (p[0] < white_from || p[0] > 98.5f || roughness(x, y) > 9) return false;
        const float c = Chroma(p), hue = Hue(p);
        const float most = hue > 60 && hue < 140 ? 15.f : hue > 200 && hue < 300 ? 10.f : 7.f;
        return c < most;
      },
      [&](const Component& c) { return c.top_share < 0.12 && c.area < 0.45; });
  // Below a face, where a suit is; hair is above.
  if (!faces.empty())
    labeller.Claim(RegionKind::kDarkCloth, 0.002, [&](const cv::Vec3f& p, int x, int y) {
      if (p[0] > 30 || p[0] < 1.5f || Chroma(p) > 9 || roughness(x, y) > 6) return false;
      return std::any_of(faces.begin(), faces.end(), [&](const record::Face& f) {
        const double fw = (f.right - f.left) * w, fh = (f.bottom - f.top) * h;
        const double dx = (x - (f.left + f.right) / 2 * w) / fw, dy = (y - (f.top + f.bottom) / 2 * h) / fh;
        return std::abs(dx) < 2.2 && dy > 1.0 && dy < 6.5;
      });
    });
  labeller.Claim(RegionKind::kNeutral, 0.0008, [&](const cv::Vec3f& p, int x, int y) {
    return p[0] > std::max(24.f, dark) && p[0] < white_from && Chroma(p) < 5 && roughness(x, y) < 8;
  });
  labeller.Claim(RegionKind::kShadow, 0.0004,
                 [&](const cv::Vec3f& p, int, int) { return p[0] > 0.5f && p[0] < dark && p[0] < 34; });
  labeller.Claim(RegionKind::kHighlight, 0.0003,
                 [&](const cv::Vec3f& p, int, int) { return p[0] > bright && p[0] > 76 && p[0] < 99; });
  return labels;
}

}  // namespace samelight::measure
