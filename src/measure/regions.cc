#include "measure/regions.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/resize.h"
#include "measure/view.h"

namespace samelight::measure {
namespace {

using record::RegionKind;

// One pixel as the rules below see it. Hues are those of CIELAB under D65.
struct Look {
  float lightness, a, b, chroma, hue_deg;
  float rough;  // standard deviation of lightness within some 14 px of the picture
};

// Tones of the whole picture.
struct Tones {
  float darkest, dark, bright, white_from;
};

// Leaves: about 100 degrees (sunlit grass) to 150 (needles) for the leaf spectra of the USGS library; film
// greens go a little beyond.
bool FoliageLike(const Look& p, const Tones&) {
  return p.lightness > 12 && p.lightness < 88 && p.chroma > 9 && p.chroma > 0.24f * p.lightness &&
         p.hue_deg > 101 && p.hue_deg < 160;
}

// Red over green in linear BT.2020 (from CIELAB by way of XYZ under D65).
float RedOverGreen(const Look& p) {
  const auto cube = [](float f) { return f > 6 / 29.f ? f * f * f : (f - 4 / 29.f) * 108 / 841.f; };
  const float fy = (p.lightness + 16) / 116;
  const float x = 0.9505f * cube(fy + p.a / 500), y = cube(fy), z = 1.0888f * cube(fy - p.b / 200);
  const float red = 1.7167f * x - 0.3557f * y - 0.2534f * z, green = -0.6667f * x + 1.6165f * y + 0.0158f * z;
  return green > 0 ? red / green : 1;
}

// Blue sky only: a white one cannot be told from a wall. Scattered light holds clearly less red than green,
// which walls under coloured lamps do not.
bool SkyLike(const Look& p, const Tones& t) {
  return p.lightness > 28 && p.lightness > std::min(t.darkest + 15, 45.f) && p.chroma > 8 &&
         p.hue_deg > 220 && p.hue_deg < 300 && p.rough < 3.5f && RedOverGreen(p) < 0.86f;
}

// White to ivory; bluish in open shade, greenish over grass.
bool WhiteLike(const Look& p, const Tones& t) {
  if (p.lightness < t.white_from || p.lightness > 98.5f || p.rough > 9) return false;
  const bool warm = p.hue_deg > 60 && p.hue_deg<140, cold = p.hue_deg> 200 && p.hue_deg < 300;
  return p.chroma < (warm ? 14 : cold ? 9 : 7);
}

bool DarkClothLike(const Look& p, const Tones&) {
  return p.lightness > 1.5f && p.lightness < 30 && p.chroma < 9 && p.rough < 6;
}

bool NeutralLike(const Look& p, const Tones& t) {
  return p.lightness > std::max(24.f, t.dark) && p.lightness < t.white_from && p.chroma < 5 && p.rough < 8;
}

bool ShadowLike(const Look& p, const Tones& t) {
  return p.lightness > 0.5f && p.lightness < std::min(t.dark, 34.f);
}

bool HighlightLike(const Look& p, const Tones& t) {
  return p.lightness > std::max(t.bright, 76.f) && p.lightness < 99;
}

// Bits of a pixel's possible kinds.
enum Bit : std::uint8_t {
  kFoliage = 1,
  kSky = 2,
  kWhite = 4,
  kDark = 8,
  kGrey = 16,
  kShade = 32,
  kShine = 64
};

std::uint8_t Kinds(const Look& p, const Tones& t) {
  return static_cast<std::uint8_t>((FoliageLike(p, t) ? kFoliage : 0) | (SkyLike(p, t) ? kSky : 0) |
                                   (WhiteLike(p, t) ? kWhite : 0) | (DarkClothLike(p, t) ? kDark : 0) |
                                   (NeutralLike(p, t) ? kGrey : 0) | (ShadowLike(p, t) ? kShade : 0) |
                                   (HighlightLike(p, t) ? kShine : 0));
}

// A LabView with its tones and how it varies from place to place.
class View {
 public:
  View(const image::RgbF& lab, const cv::Mat& known) : lab_(lab) {
    const cv::Mat all(lab.height(), lab.width(), CV_32FC3, const_cast<float*>(lab.data().data()));
    cv::Mat light, mean, square;
    cv::extractChannel(all, light, 0);
    cv::boxFilter(light, mean, CV_32F, cv::Size(7, 7));
    cv::boxFilter(light.mul(light), square, CV_32F, cv::Size(7, 7));
    cv::sqrt(cv::max(square - mean.mul(mean), 0), rough_);
    std::vector<float> tones;
    for (int y = 0; y < light.rows; ++y)
      for (int x = 0; x < light.cols; ++x)
        if (known.at<std::uint8_t>(y, x)) tones.push_back(light.at<float>(y, x));
    if (tones.size() < 50) return;
    const auto tone = [&](double q) {
      const auto at = tones.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(tones.size() - 1));
      std::nth_element(tones.begin(), at, tones.end());
      return *at;
    };
    tones_ = {tone(0.01), tone(0.08), tone(0.95), std::clamp(tone(0.985) - 13, 64.f, 80.f)};
    usable_ = true;
  }
  bool usable() const { return usable_; }
  std::uint8_t KindsAt(int x, int y) const {
    const float* p = lab_.at(x, y);
    const float hue = cv::fastAtan2(p[2], p[1]);  // to 0.3 degrees
    return Kinds({p[0], p[1], p[2], std::hypot(p[1], p[2]), hue, rough_.at<float>(y, x)}, tones_);
  }

 private:
  const image::RgbF& lab_;
  cv::Mat rough_;
  Tones tones_{};
  bool usable_ = false;
};

// Where a body is, below a face (in widths and heights of its box); and where hair is, around it.
constexpr double kBodyX = 1.7, kBodyFrom = 0.85, kBodyTo = 5.5, kHairX = 1.0, kHairFrom = -1.3, kHairTo = 0.9;

// 1: body, 2: head or hair, of any face.
cv::Mat People(const std::vector<record::Face>& faces, int w, int h) {
  cv::Mat people = cv::Mat::zeros(h, w, CV_8U);
  const auto box = [&](const record::Face& f, double x, double from, double to) {
    const double cx = (f.left + f.right) / 2 * w, cy = (f.top + f.bottom) / 2 * h;
    const double fw = (f.right - f.left) * w, fh = (f.bottom - f.top) * h;
    return cv::Rect(cv::Point(static_cast<int>(cx - x * fw), static_cast<int>(cy + from * fh)),
                    cv::Point(static_cast<int>(cx + x * fw), static_cast<int>(cy + to * fh))) &
           cv::Rect(0, 0, w, h);
  };
  for (const record::Face& f : faces) people(box(f, kBodyX, kBodyFrom, kBodyTo)).setTo(1);
  for (const record::Face& f : faces) people(box(f, kHairX, kHairFrom, kHairTo)).setTo(2);
  return people;
}

// One connected part of a mask.
struct Part {
  double area = 0;               // fraction of the picture
  double width = 0, height = 0;  // of its box, fractions of the picture's long side
  double top = 0;                // share of the picture's width along which it touches the top
  double body = 0, head = 0;     // share of its pixels in People 1, 2
};

class Labeller {
 public:
  Labeller(image::PlaneU8& labels, cv::Mat kinds, cv::Mat people)
      : labels_(labels), kinds_(std::move(kinds)), people_(std::move(people)) {
    while (top_ + 1 < kinds_.rows && RowIsMasked(top_)) ++top_;
  }

  // Pixels with `bit` that nothing has claimed, without specks and rims, in parts of at least `least` of the
  // picture that `keep` accepts, become `kind`.
  template <class Keep>
  void Claim(RegionKind kind, Bit bit, double least, Keep keep) {
    cv::Mat mask = kinds_ & static_cast<int>(bit);
    for (int y = 0; y < mask.rows; ++y) {
      std::uint8_t* m = mask.ptr<std::uint8_t>(y);
      const std::uint8_t* l = labels_.row(y);
      for (int x = 0; x < mask.cols; ++x) m[x] = m[x] && !l[x] ? 255 : 0;
    }
    const cv::Mat round = cv::getStructuringElement(cv::MORPH_RECT, cv::Size(3, 3));
    cv::morphologyEx(mask, mask, cv::MORPH_OPEN, round);
    cv::Mat labels, stats, centroids;
    const int count = cv::connectedComponentsWithStats(mask, labels, stats, centroids, 8);
    std::vector<Part> parts(count);
    for (int y = 0; y < mask.rows; ++y) {
      const int* l = labels.ptr<int>(y);
      const std::uint8_t* p = people_.ptr<std::uint8_t>(y);
      const bool at_top = y >= top_ && y < top_ + kTopRows;
      for (int x = 0; x < mask.cols; ++x) {
        if (!l[x]) continue;
        Part& part = parts[l[x]];
        part.body += p[x] == 1;
        part.head += p[x] == 2;
        part.top += at_top;
      }
    }
    std::vector<std::uint8_t> wanted(count, 0);
    for (int i = 1; i < count; ++i) {
      const double pixels = stats.at<int>(i, cv::CC_STAT_AREA);
      Part& part = parts[i];
      part.area = pixels / static_cast<double>(mask.total());
      const double long_side = std::max(mask.cols, mask.rows);
      part.width = stats.at<int>(i, cv::CC_STAT_WIDTH) / long_side;
      part.height = stats.at<int>(i, cv::CC_STAT_HEIGHT) / long_side;
      part.body /= pixels;
      part.head /= pixels;
      part.top /= static_cast<double>(kTopRows) * mask.cols;
      wanted[i] = part.area >= least && keep(part);
    }
    for (int y = 0; y < mask.rows; ++y) {
      const int* l = labels.ptr<int>(y);
      std::uint8_t* to = labels_.row(y);
      for (int x = 0; x < mask.cols; ++x)
        if (wanted[l[x]]) to[x] = static_cast<std::uint8_t>(kind);
    }
  }

 private:
  static constexpr int kTopRows = 4;
  bool RowIsMasked(int y) const {
    const std::uint8_t* l = labels_.row(y);
    return std::all_of(l, l + labels_.width(),
                       [](std::uint8_t v) { return v == static_cast<int>(RegionKind::kMasked); });
  }
  image::PlaneU8& labels_;
  cv::Mat kinds_, people_;
  int top_ = 0;  // first row that is not all border
};

}  // namespace

image::PlaneU8 LabelRegions(const image::RgbF& rec2020_linear, const ToneNeutral& neutral,
                            const ToneNeutral& other_neutral, bool scene_referred,
                            const image::PlaneU8& masked, const Skin& skin,
                            const std::vector<record::Face>& faces) {
  // At half the size: grain is averaged away before anything is decided, and it costs a quarter.
  const int full_w = rec2020_linear.width(), full_h = rec2020_linear.height();
  const int w = std::max(1, full_w / 2), h = std::max(1, full_h / 2);
  const auto half_x = [&](int x) { return std::min(x / 2, w - 1); };
  const auto half_y = [&](int y) { return std::min(y / 2, h - 1); };
  const image::RgbF half = image::ResizeTo(rec2020_linear, w, h);
  cv::Mat known(h, w, CV_8U, cv::Scalar(255)), alike(h, w, CV_8U, cv::Scalar(0));
  image::PlaneU8 labels(w, h);
  std::fill(labels.data().begin(), labels.data().end(), static_cast<std::uint8_t>(RegionKind::kOther));
  for (int y = 0; y < full_h; ++y)
    for (int x = 0; x < full_w; ++x) {
      const int hx = half_x(x), hy = half_y(y);
      if (*skin.faces.at(x, y)) *labels.at(hx, hy) = static_cast<std::uint8_t>(RegionKind::kSkin);
      if (*skin.alike.at(x, y)) alike.at<std::uint8_t>(hy, hx) = 255;
      if (*masked.at(x, y)) known.at<std::uint8_t>(hy, hx) = 0;
    }
  const image::RgbF lab = LabView(half, neutral, scene_referred),
                    lab_other = LabView(half, other_neutral, scene_referred);
  const View view(lab, known), other(lab_other, known);
  if (view.usable()) {
    cv::Mat kinds(h, w, CV_8U);
    for (int y = 0; y < h; ++y)
      for (int x = 0; x < w; ++x) {
        if (!known.at<std::uint8_t>(y, x)) *labels.at(x, y) = static_cast<std::uint8_t>(RegionKind::kMasked);
        std::uint8_t k = *labels.at(x, y) ? 0 : view.KindsAt(x, y);
        if (k) k &= other.KindsAt(x, y);
        // Other people's skin, and ivory that could be it.
        if (alike.at<std::uint8_t>(y, x)) k &= ~(kWhite | kGrey | kFoliage | kShine);
        kinds.at<std::uint8_t>(y, x) = k;
      }
    Labeller labeller(labels, kinds, People(faces, w, h));
    const auto any = [](const Part&) { return true; };
    // Green on a body is a dress.
    labeller.Claim(RegionKind::kFoliage, kFoliage, 0.0015, [](const Part& p) { return p.body < 0.5; });
    labeller.Claim(RegionKind::kSky, kSky, 0.008, [](const Part& p) { return p.top > 0.05; });
    // What runs along the top is sky, ceiling or wall; what lies flat and wide is haze or snow.
    labeller.Claim(RegionKind::kWhiteCloth, kWhite, 0.0015, [](const Part& p) {
      return p.top < 0.1 && p.area < 0.4 && !(p.width > 0.35 && p.height < 0.4 * p.width);
    });
    // Dark on a body is cloth; what reaches far beyond is a background.
    labeller.Claim(RegionKind::kDarkCloth, kDark, 0.002,
                   [](const Part& p) { return p.body > 0.7 && p.head < 0.15; });
    labeller.Claim(RegionKind::kNeutral, kGrey, 0.001, any);
    labeller.Claim(RegionKind::kShadow, kShade, 0.0005, any);
    labeller.Claim(RegionKind::kHighlight, kShine, 0.0003, any);
  }
  image::PlaneU8 full(full_w, full_h);
  for (int y = 0; y < full_h; ++y)
    for (int x = 0; x < full_w; ++x) {
      const std::uint8_t half_label = *labels.at(half_x(x), half_y(y));
      const bool exact = half_label == static_cast<std::uint8_t>(RegionKind::kSkin) ||
                         half_label == static_cast<std::uint8_t>(RegionKind::kMasked);
      *full.at(x, y) = *masked.at(x, y)       ? static_cast<std::uint8_t>(RegionKind::kMasked)
                       : *skin.faces.at(x, y) ? static_cast<std::uint8_t>(RegionKind::kSkin)
                       : exact                ? static_cast<std::uint8_t>(RegionKind::kOther)
                                              : half_label;
    }
  return full;
}

}  // namespace samelight::measure
