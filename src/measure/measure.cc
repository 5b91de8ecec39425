#include "measure/measure.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <new>
#include <opencv2/core.hpp>
#include <vector>

#include "image/alone.h"
#include "image/resize.h"
#include "measure/border.h"
#include "measure/clipping.h"
#include "measure/light.h"
#include "measure/quality.h"
#include "measure/regions.h"
#include "measure/skin.h"
#include "measure/view.h"

namespace samelight::measure {
namespace {

constexpr int kFaceLongSide = 2048;
constexpr int kLeastSide = 16;
// Photographs have 5 and more; blurred by 2.5 px of 2048 they have 1.2 to 1.6, by 4 px 1.0 and less.
constexpr double kUnsharp = 1.2;

void Cover(image::PlaneU8& mask, const image::PlaneU8& more) {
  for (std::size_t i = 0; i < mask.pixels(); ++i) mask.data()[i] |= more.data()[i];
}

// One unmasked pixel in four, as a single row; at least one pixel.
image::RgbF Thinned(const image::RgbF& pixels, const image::PlaneU8& masked) {
  std::vector<float> kept;
  for (int y = 0; y < pixels.height(); y += 2)
    for (int x = 0; x < pixels.width(); x += 2)
      if (!*masked.at(x, y)) kept.insert(kept.end(), pixels.at(x, y), pixels.at(x, y) + 3);
  if (kept.empty()) kept.assign(pixels.at(0, 0), pixels.at(0, 0) + 3);
  image::RgbF row(static_cast<int>(kept.size() / 3), 1);
  row.data() = std::move(kept);
  return row;
}

MeasuredPicture Measure(const image::RgbF& linear, const record::Photo& photo, FaceFinder* finder) {
  const bool raw = photo.encoding == record::Encoding::kRaw;
  MeasuredPicture out;
  record::Measured& m = out.measured;
  const image::RgbF middle = image::ShrinkTo(linear, kFaceLongSide);
  if (finder) m.faces = finder->Find(NeutralRendering(middle, raw));
  m.sharpness = Sharpness(image::Luminance(middle));

  image::RgbF& pixels = out.analysis.pixels = image::ShrinkTo(middle, kAnalysisLongSide);
  for (float& v : pixels.data())
    if (!std::isfinite(v)) v = 0;
  Clipping clipping = FindClipping(linear, photo, pixels.width(), pixels.height());
  m.clipped_high = clipping.fraction_high;
  m.clipped_low = clipping.fraction_low;
  image::PlaneU8 masked = std::move(clipping.high);
  if (photo.role == record::Role::kScan) {
    const Border border = FindBorder(pixels);
    Cover(masked, border.outside);
    m.inner_left = border.left;
    m.inner_top = border.top;
    m.inner_right = border.right;
    m.inner_bottom = border.bottom;
    Cover(masked, FindDust(pixels));
  }
  const Skin skin = FindSkin(pixels, masked, m.faces);
  ToneNeutral neutral;
  m.light = EstimateLight(pixels, masked, skin.alike, photo, m.faces, &neutral);
  const image::RgbF plain = LabView(Thinned(pixels, masked), ToneNeutral(), raw);
  m.black_and_white = IsBlackAndWhite(plain);
  m.note = BlankNote(plain, m.clipped_high);
  if (m.note.empty() && m.sharpness < kUnsharp &&
      std::max(middle.width(), middle.height()) > kAnalysisLongSide)
    m.note = "unsharp: no fine edge anywhere";
  m.grain = Grain(pixels, masked);
  out.analysis.faces = skin.faces;
  // The neutral is not known exactly: only what it makes no difference to is labelled.
  out.analysis.labels =
      LabelRegions(pixels, neutral, neutral.Toward1(m.light.confidence), raw, masked, skin, m.faces);
  m.regions = RegionStatistics(pixels, out.analysis.labels, out.analysis.faces);
  return out;
}

}  // namespace

Result<MeasuredPicture> MeasurePicture(const image::RgbF& linear, const record::Photo& photo,
                                       FaceFinder* faces) {
  if (std::min(linear.width(), linear.height()) < kLeastSide)
    return Error{ErrorCode::kUnsupported, "the picture is too small to measure", photo.path,
                 "use the file at its full size, or leave it out"};
  try {
    image::WorkAlone();
    return Measure(linear, photo, faces);
  } catch (const cv::Exception& e) {
    return Error{ErrorCode::kInternal, "measuring failed: " + e.msg, photo.path, "leave it out"};
  } catch (const std::bad_alloc&) {
    return Error{ErrorCode::kTooLarge, "not enough memory to measure the picture", photo.path,
                 "close other programs, or work on fewer pictures at once (--jobs)"};
  }
}

}  // namespace samelight::measure
