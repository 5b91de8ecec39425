#include "render/render.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <type_traits>
#include <vector>

#include "image/shrink.h"
#include "look/evaluate.h"
#include "render/bake.h"
#include "render/grain.h"
#include "render/lookup.h"
#include "render/quantise.h"
#include "render/roughness.h"
#include "render/sharpen.h"
#include "render/tolerance.h"

namespace samelight::render {
namespace {

// Columns that are worked on together: their rows stay in the first-level cache from look-up to rounding, and
// the rows that acutance and grain look back at stay in the second.
constexpr int kStrip = 512;
constexpr int kRows = 2 * kMostSharpenReach + 1;

// Of its variance.
constexpr double kLeastGrain = 0.1;

// Memory that a thread keeps from frame to frame.
struct Workshop {
  BakedCorrection baked;
  NoiseShape shape, weaker;
  NoiseStrip noise;
  // What `shape` was made for: frames of a session share their grain and mostly their size.
  record::GrainModel model;
  int long_side_px = 0;
  color::Space space = color::Space::kSrgb;
  double amount = 0, size = 0;

  void MakeShape(int side_px, color::Space to, const Grain& grain) {
    if (side_px == long_side_px && to == space && grain.amount == amount && grain.size == size &&
        grain.model == model)
      return;
    shape = ShapeFor(grain.model, side_px, to, grain.amount, grain.size);
    model = grain.model;
    long_side_px = side_px;
    space = to;
    amount = grain.amount;
    size = grain.size;
  }

  std::array<std::vector<float>, kRows> rgbx, luma;
  std::vector<float> linear;  // a row of samples
};
Workshop& ThreadWorkshop() {
  static thread_local std::unique_ptr<Workshop> workshop = std::make_unique<Workshop>();
  return *workshop;
}

Status Check(const image::Source& linear, const RenderOptions& options) {
  const auto bad = [](const char* what) { return Error{ErrorCode::kInvalidArgument, what, "", ""}; };
  if (linear.empty()) return bad("there are no pixels to render");
  if (!(options.acutance.gain >= -0.9 && options.acutance.gain <= 2))
    return bad("acutance must be from -0.9 to 2");
  const Part& part = options.part;
  if (part.width > 0 && (options.long_side_px > 0 || part.x < 0 || part.y < 0 || part.height < 1 ||
                         part.width > linear.width() - part.x || part.height > linear.height() - part.y))
    return bad("the part to render does not lie in the picture");
  if (options.monochrome.tone.size() == 1) return bad("a black-and-white tone needs two values or more");
  if (!options.grain.on) return {};
  if (!(options.grain.amount >= 0 && options.grain.amount <= 10))
    return bad("the amount of grain must be from 0 to 10");
  if (!(options.grain.size >= 0.25 && options.grain.size <= 4))
    return bad("the size of grain must be from 0.25 to 4");
  if (!Usable(options.grain.model)) return bad("the grain model is damaged or was never measured");
  return {};
}

// Colours of a row: through the baked correction, or only into the output space.
struct Corrected {
  const BakedCorrection& baked;
  void operator()(const float* rgb, int count, float* rgbx) const { Lookup(baked, rgb, count, rgbx); }
};
struct Grey {
  const BakedCorrection& baked;
  const std::vector<float>& tone;
  void operator()(const float* rgb, int count, float* rgbx) const {
    Lookup(baked, rgb, count, rgbx);
    const float last = static_cast<float>(tone.size() - 1);
    for (int i = 0; i < count; ++i, rgbx += 4) {
      const float luma = 0.2126f * rgbx[0] + 0.7152f * rgbx[1] + 0.0722f * rgbx[2];
      const float at = std::clamp(luma, 0.0f, 1.0f) * last;
      const auto k = std::min(static_cast<std::size_t>(at), tone.size() - 2);
      const float v = tone[k] + (at - static_cast<float>(k)) * (tone[k + 1] - tone[k]);
      rgbx[0] = rgbx[1] = rgbx[2] = v;
    }
  }
};
struct AsItIs {
  Mat3 matrix;
  Encoder encoder;
  explicit AsItIs(color::Space space) : matrix(color::RgbFromRgb(space, color::Space::kRec2020)) {
    FillEncoder(space, encoder);
  }
  void operator()(const float* rgb, int count, float* rgbx) const {
    for (int i = 0; i < count; ++i, rgb += 3, rgbx += 4) {
      for (int c = 0; c < 3; ++c) {
        const float v =
            static_cast<float>(matrix[c][0] * rgb[0] + matrix[c][1] * rgb[1] + matrix[c][2] * rgb[2]);
        rgbx[c] = EncodeRoot(encoder, std::sqrt(v > 0 ? std::min(v, 1.0f) : 0.0f));
      }
      rgbx[3] = 0;
    }
  }
};

// One strip of columns, row by row from y0 down.
template <class Colour>
class Strip {
 public:
  Strip(Workshop& shop, const Colour& colour, const image::Source& in, const SharpenPlan& acutance, int x0,
        int width, int y0)
      : shop_(shop),
        colour_(colour),
        in_(in),
        acutance_(acutance),
        reach_(acutance.reach),
        rows_(2 * acutance.reach + 1),
        x0_(x0),
        width_(width),
        next_(y0),
        loaded_(std::max(0, y0 - reach_)) {
    for (std::vector<float>& row : shop.rgbx) row.resize(4 * (kStrip + 2 * kMostSharpenReach));
    for (std::vector<float>& row : shop.luma) row.resize(kStrip + 2 * kMostSharpenReach);
    shop.linear.resize(3 * (kStrip + 2 * kMostSharpenReach));
  }

  // Corrected, sharpened pixels of the next row; they may be changed.
  float* Next() {
    const int y = next_++;
    Expect(0);
    if (acutance_.gain == 0) {
      colour_(in_.Row(x0_, y, width_, shop_.linear.data()), width_, shop_.rgbx[0].data());
      return shop_.rgbx[0].data();
    }
    while (loaded_ <= std::min(y + reach_, in_.height() - 1)) Load(loaded_++);
    const float* rows[kRows];
    for (int k = -reach_; k <= reach_; ++k)
      rows[k + reach_] = shop_.luma[std::clamp(y + k, 0, in_.height() - 1) % rows_].data();
    float* own = shop_.rgbx[y % rows_].data() + 4 * (x0_ - Left());
    SharpenRow(acutance_, rows, width_, own);
    return own;
  }

  // Asks memory for a third of the row that Next() will read; more at once would wait for it.
  void Expect(int third) const {
    const int left = Left(), count = std::min(in_.width(), x0_ + width_ + reach_) - left;
    const int from = count * third / 3, to = count * (third + 1) / 3;
    in_.Expect(left + from, acutance_.gain == 0 ? next_ : loaded_, to - from);
  }

 private:
  int Left() const { return std::max(0, x0_ - reach_); }
  void Load(int y) {
    const int left = Left(), right = std::min(in_.width(), x0_ + width_ + reach_);
    float* rgbx = shop_.rgbx[y % rows_].data();
    float* luma = shop_.luma[y % rows_].data();
    colour_(in_.Row(left, y, right - left, shop_.linear.data()), right - left, rgbx);
    // The border's luma is repeated outside the picture.
    const int before = left - (x0_ - reach_), count = right - left;
    LumaRow(rgbx, count, luma + before);
    std::fill(luma, luma + before, luma[before]);
    std::fill(luma + before + count, luma + width_ + 2 * reach_, luma[before + count - 1]);
  }

  Workshop& shop_;
  const Colour& colour_;
  const image::Source& in_;
  const SharpenPlan& acutance_;
  const int reach_, rows_, x0_, width_;
  int next_, loaded_;
};

// The picture's own noise: roughness of the quieter quarter of some hundred places, of middle tones when
// there are enough of them. Detail of the same strength cannot be told from it.
template <class Colour>
double NoiseOf(const image::Source& in, const Colour& colour) {
  constexpr int kPlaces = 12;
  if (in.width() < kPatchAcross || in.height() < kPatchDown) return 0;
  std::array<double, kPlaces * kPlaces> all{}, middle{};
  std::size_t count = 0;
  float linear[3 * kPatchAcross], rgbx[4 * kPatchAcross];
  Patch luma;
  for (int place = 0; place < kPlaces * kPlaces; ++place) {
    const int x0 = (in.width() - kPatchAcross) * (place % kPlaces) / (kPlaces - 1);
    const int y0 = (in.height() - kPatchDown) * (place / kPlaces) / (kPlaces - 1);
    double mean = 0;
    for (int y = 0; y < kPatchDown; ++y) {
      colour(in.Row(x0, y0 + y, kPatchAcross, linear), kPatchAcross, rgbx);
      LumaRow(rgbx, kPatchAcross, luma[y]);
      for (const float v : luma[y]) mean += v / (kPatchDown * kPatchAcross);
    }
    all[static_cast<std::size_t>(place)] = Roughness(luma);
    if (mean > 0.2 && mean < 0.8) middle[count++] = all[static_cast<std::size_t>(place)];
  }
  const auto quarter = [](auto first, auto last) {
    const auto at = first + (last - first) / 4;
    std::nth_element(first, at, last);
    return *at;
  };
  return count >= all.size() / 6 ? quarter(middle.begin(), middle.begin() + static_cast<long>(count))
                                 : quarter(all.begin(), all.end());
}

const Error kStopped{ErrorCode::kCancelled, "rendering was stopped", "", ""};

// `colour` gives colours that are then sharpened, grained by `noise` (unless null) and rounded.
template <class R, class Colour>
Status Draw(const image::Source& in, const Colour& colour, const NoiseShape* shape,
            const RenderOptions& options, R& out) {
  Workshop& shop = ThreadWorkshop();
  const Part part = options.part.width > 0 ? options.part : Part{0, 0, in.width(), in.height()};
  out.Resize(part.width, part.height);
  Sharpening sharpening = options.acutance;
  const double noise = shape != nullptr || sharpening.gain > 0 ? NoiseOf(in, colour) : 0;
  if (sharpening.gain > 0) sharpening.noise = std::max(sharpening.noise, 1.5 * noise);
  const SharpenPlan acutance = PlanSharpening(sharpening);
  // What a high sensitivity has brought in already is left out of the grain, so that both together are as
  // strong as the film's; some of it always stays, since noise has no grain.
  if (shape != nullptr) {
    const double share = noise / std::max(1e-9, RoughnessOfGrain(*shape, shop.noise));
    shop.weaker = *shape;
    const auto left = static_cast<float>(std::sqrt(std::max(kLeastGrain, 1 - share * share)));
    for (auto& power : shop.weaker.gain)
      for (float& v : power) v *= left;
    shape = &shop.weaker;
  }
  for (int x = 0; x < part.width; x += kStrip) {
    const int x0 = part.x + x, width = std::min(kStrip, part.width - x);
    Strip strip(shop, colour, in, acutance, x0, width, part.y);
    if (shape != nullptr) shop.noise.Begin(*shape, options.grain.seed, x0, width, part.y);
    for (int y = 0; y < part.height; ++y) {
      if (options.cancel.requested()) return kStopped;
      float* rgbx = strip.Next();
      strip.Expect(1);
      if (shape != nullptr) shop.noise.Add(rgbx);
      strip.Expect(2);
      if constexpr (std::is_same_v<R, image::RgbU8>)
        Quantise8(rgbx, width, options.dither, x0, part.y + y, out.at(x, y));
      else
        Quantise16(rgbx, width, out.at(x, y));
    }
  }
  return {};
}

// `linear`, or its reduced copy in `small`.
image::Source Sized(const image::Source& linear, const RenderOptions& options, image::RgbF& small) {
  const int side = options.long_side_px;
  if (side <= 0 || side >= std::max(linear.width(), linear.height())) return linear;
  small = image::ShrinkTo(linear, side, options.cancel);
  return small;
}

template <class R>
Status RenderAny(const image::Source& linear, const record::Correction& correction,
                 const RenderOptions& options, R& out) {
  if (Status sound = Check(linear, options); !sound.ok()) return sound;
  if (options.cancel.requested()) return kStopped;
  Workshop& shop = ThreadWorkshop();
  BakeWithin(look::Resolve(correction), options.space, shop.baked);
  image::RgbF small;
  const image::Source in = Sized(linear, options, small);
  const bool grain = options.grain.on && options.grain.amount > 0;
  if (grain) shop.MakeShape(std::max(in.width(), in.height()), options.space, options.grain);
  const NoiseShape* shape = grain ? &shop.shape : nullptr;
  if (!options.monochrome.tone.empty())
    return Draw(in, Grey{shop.baked, options.monochrome.tone}, shape, options, out);
  return Draw(in, Corrected{shop.baked}, shape, options, out);
}

template <class R>
Status AsItIsAny(const image::Source& linear, RenderOptions options, R& out) {
  options.grain.on = false;
  if (Status sound = Check(linear, options); !sound.ok()) return sound;
  if (options.cancel.requested()) return kStopped;
  image::RgbF small;
  return Draw(Sized(linear, options, small), AsItIs(options.space), nullptr, options, out);
}

template <class R>
Result<R> New(const image::Source& linear, const record::Correction& correction,
              const RenderOptions& options) {
  R out;
  const Status done = RenderAny(linear, correction, options, out);
  if (!done.ok()) return done.error();
  return out;
}

}  // namespace

Status Render(const image::Source& linear, const record::Correction& correction, const RenderOptions& options,
              image::RgbU8& out) {
  return RenderAny(linear, correction, options, out);
}

Status Render(const image::Source& linear, const record::Correction& correction, const RenderOptions& options,
              image::RgbU16& out) {
  return RenderAny(linear, correction, options, out);
}

Status RenderAsItIs(const image::Source& linear, const RenderOptions& options, image::RgbU8& out) {
  return AsItIsAny(linear, options, out);
}
Status RenderAsItIs(const image::Source& linear, const RenderOptions& options, image::RgbU16& out) {
  return AsItIsAny(linear, options, out);
}

Result<image::RgbU8> Render8(const image::Source& linear, const record::Correction& correction,
                             const RenderOptions& options) {
  return New<image::RgbU8>(linear, correction, options);
}

Result<image::RgbU16> Render16(const image::Source& linear, const record::Correction& correction,
                               const RenderOptions& options) {
  return New<image::RgbU16>(linear, correction, options);
}

}  // namespace samelight::render
