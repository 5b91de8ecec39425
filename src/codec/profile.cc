#include "codec/profile.h"

#include <lcms2.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <functional>
#include <map>
#include <mutex>

#include "color/adapt.h"

namespace samelight::codec {
namespace {

struct ProfileCloser {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct TransformCloser {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
using Context = std::shared_ptr<void>;
using Profile = std::unique_ptr<void, ProfileCloser>;
using Transform = std::unique_ptr<void, TransformCloser>;

// Each use has a context of its own: nothing is shared between threads, and messages are swallowed.
Context MakeContext() {
  Context context(cmsCreateContext(nullptr, nullptr),
                  [](void* c) { cmsDeleteContext(static_cast<cmsContext>(c)); });
  cmsSetLogErrorHandlerTHR(static_cast<cmsContext>(context.get()),
                           [](cmsContext, cmsUInt32Number, const char*) {});
  return context;
}
cmsContext Raw(const Context& context) { return static_cast<cmsContext>(context.get()); }

struct CurveCloser {
  void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
};

// A curve of a profile, with the context that it lives in.
struct KeptCurve {
  KeptCurve(Context c, const cmsToneCurve* from)
      : context(std::move(c)), curve(cmsDupToneCurve(from), CurveCloser()) {}
  double At(double v) const {
    return static_cast<double>(cmsEvalToneCurveFloat(curve.get(), static_cast<float>(v)));
  }
  Context context;  // first, so that it goes last
  std::shared_ptr<cmsToneCurve> curve;
};

Profile LinearRec2020(cmsContext context) {
  const std::unique_ptr<cmsToneCurve, CurveCloser> linear(cmsBuildGamma(context, 1.0));
  cmsToneCurve* curves[3] = {linear.get(), linear.get(), linear.get()};
  // ITU-R BT.2020-2, Table 3.
  const cmsCIExyY white = {0.3127, 0.3290, 1.0};
  const cmsCIExyYTRIPLE primaries = {{0.708, 0.292, 1.0}, {0.170, 0.797, 1.0}, {0.131, 0.046, 1.0}};
  return Profile(cmsCreateRGBProfileTHR(context, &white, &primaries, curves));
}

// 1 / full scale of a depth.
double Step(Depth depth) { return depth == Depth::k8 ? 1.0 / 255 : 1.0 / 65535; }

// Per-channel tables and a matrix: exact for matrix profiles and for the spaces of src/color.
class Shaper final : public Rec2020From {
 public:
  // curve(channel, encoded) for encoded in 0..1 (float input may lie outside).
  template <class Curve>
  Shaper(const RowLayout& layout, const Curve& curve, const Mat3& matrix)
      : depth_(layout.depth), grey_(layout.channels == 1), curve_(curve) {
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) m_[i][j] = static_cast<float>(matrix[i][j]);
    if (depth_ == Depth::kFloat) return;
    const std::size_t size = depth_ == Depth::k8 ? 256 : 65536;
    for (int c = 0; c < (grey_ ? 1 : 3); ++c) {
      table_[c].resize(size);
      for (std::size_t i = 0; i < size; ++i)
        table_[c][i] = static_cast<float>(curve(c, static_cast<double>(i) * Step(depth_)));
    }
    if (depth_ != Depth::k8 || grey_) return;
    for (std::size_t c = 0; c < 3; ++c)
      for (std::size_t i = 0; i < 256; ++i)
        for (std::size_t row = 0; row < 3; ++row) parts_[c][4 * i + row] = m_[row][c] * table_[c][i];
  }

  void Convert(const std::uint8_t* samples, std::size_t pixels, float* out) const override {
    switch (depth_) {
      case Depth::k8:
        return grey_ ? Run(samples, pixels, out) : RunParts(samples, pixels, out);
      case Depth::k16:
        return Run(reinterpret_cast<const std::uint16_t*>(samples), pixels, out);
      case Depth::kFloat:
        return RunFloat(reinterpret_cast<const float*>(samples), pixels, out);
    }
  }

 private:
  void Mix(float r, float g, float b, float* out) const {
    out[0] = m_[0][0] * r + m_[0][1] * g + m_[0][2] * b;
    out[1] = m_[1][0] * r + m_[1][1] * g + m_[1][2] * b;
    out[2] = m_[2][0] * r + m_[2][1] * g + m_[2][2] * b;
  }
  template <class T>
  void Run(const T* in, std::size_t pixels, float* out) const {
    const float *r = table_[0].data(), *g = table_[1].data(), *b = table_[2].data();
    if (grey_)
      for (std::size_t i = 0; i < pixels; ++i, out += 3) out[0] = out[1] = out[2] = r[in[i]];
    else
      for (std::size_t i = 0; i < pixels; ++i, in += 3, out += 3) Mix(r[in[0]], g[in[1]], b[in[2]], out);
  }
  // What each 8-bit value gives to the three outputs lies ready in one register.
  void RunParts(const std::uint8_t* in, std::size_t pixels, float* out) const {
    // GCC and clang: four floats added at once wherever the processor can.
    using Four = float __attribute__((vector_size(16)));
    const auto at = [](const std::array<float, 4 * 256>& part, std::uint8_t value) {
      Four v;
      std::memcpy(&v, part.data() + 4 * value, sizeof v);
      return v;
    };
    const auto sum = [&] { return at(parts_[0], in[0]) + at(parts_[1], in[1]) + at(parts_[2], in[2]); };
    // The fourth float is written over by the next pixel; not allowed at the end.
    for (; pixels > 1; --pixels, in += 3, out += 3) {
      const Four v = sum();
      std::memcpy(out, &v, sizeof v);
    }
    if (pixels == 0) return;
    const Four last = sum();
    std::memcpy(out, &last, 3 * sizeof(float));
  }
  void RunFloat(const float* in, std::size_t pixels, float* out) const {
    const auto value = [&](int c, float v) {
      return static_cast<float>(curve_(c, std::isfinite(v) ? v : 0.0));
    };
    if (grey_)
      for (std::size_t i = 0; i < pixels; ++i, out += 3) out[0] = out[1] = out[2] = value(0, in[i]);
    else
      for (std::size_t i = 0; i < pixels; ++i, in += 3, out += 3)
        Mix(value(0, in[0]), value(1, in[1]), value(2, in[2]), out);
  }

  Depth depth_;
  bool grey_;
  std::function<double(int, double)> curve_;
  float m_[3][3];
  std::vector<float> table_[3];
  alignas(16) std::array<float, 4 * 256> parts_[3]{};
};

// Anything else, by LittleCMS in float.
class Tables final : public Rec2020From {
 public:
  Tables(Context context, Profile profile, const RowLayout& layout)
      : context_(std::move(context)), depth_(layout.depth), channels_(layout.channels) {
    const cmsUInt32Number in = channels_ == 1 ? TYPE_GRAY_FLT : channels_ == 3 ? TYPE_RGB_FLT : TYPE_CMYK_FLT;
    const Profile out = LinearRec2020(Raw(context_));
    transform_.reset(cmsCreateTransformTHR(Raw(context_), profile.get(), in, out.get(), TYPE_RGB_FLT,
                                           INTENT_RELATIVE_COLORIMETRIC,
                                           cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE));
  }
  bool ok() const { return transform_ != nullptr; }

  void Convert(const std::uint8_t* samples, std::size_t pixels, float* out) const override {
    constexpr std::size_t kPart = 1024;
    float in[kPart * 4];
    const float full = channels_ == 4 ? 100.0f : 1.0f;  // LittleCMS takes inks in per cent
    const auto* words = reinterpret_cast<const std::uint16_t*>(samples);
    const auto* floats = reinterpret_cast<const float*>(samples);
    const auto channels = static_cast<std::size_t>(channels_);
    for (std::size_t done = 0; done < pixels; done += kPart) {
      const std::size_t part = std::min(kPart, pixels - done), first = done * channels;
      for (std::size_t i = 0; i < part * channels; ++i)
        in[i] = depth_ == Depth::k8    ? static_cast<float>(samples[first + i]) * (full / 255.0f)
                : depth_ == Depth::k16 ? static_cast<float>(words[first + i]) * (full / 65535.0f)
                                       : floats[first + i] * full;
      cmsDoTransform(transform_.get(), in, out + 3 * done, static_cast<cmsUInt32Number>(part));
      for (std::size_t i = 3 * done; i < 3 * (done + part); ++i)
        if (!std::isfinite(out[i])) out[i] = 0;
    }
  }

 private:
  Context context_;  // outlives the transform
  Transform transform_;
  Depth depth_;
  int channels_;
};

// Inks as plain filters: R = (1 - C)(1 - K). A stand-in that is only used when a CMYK file has no profile.
class PlainInks final : public Rec2020From {
 public:
  PlainInks(const RowLayout& layout, std::unique_ptr<Rec2020From> rgb)
      : depth_(layout.depth), rgb_(std::move(rgb)) {}
  void Convert(const std::uint8_t* samples, std::size_t pixels, float* out) const override {
    std::vector<float> encoded(pixels * 3);
    const auto* words = reinterpret_cast<const std::uint16_t*>(samples);
    const auto white = [&](std::size_t i) {
      return 1.0f - static_cast<float>((depth_ == Depth::k8 ? samples[i] : words[i]) * Step(depth_));
    };
    for (std::size_t i = 0; i < pixels; ++i)
      for (std::size_t c = 0; c < 3; ++c) encoded[3 * i + c] = white(4 * i + c) * white(4 * i + 3);
    rgb_->Convert(reinterpret_cast<const std::uint8_t*>(encoded.data()), pixels, out);
  }

 private:
  Depth depth_;
  std::unique_ptr<Rec2020From> rgb_;
};

std::string Description(cmsHPROFILE profile) {
  char text[256] = "";
  cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", text, sizeof text);
  std::string name(text);
  std::erase_if(name, [](char c) { return static_cast<unsigned char>(c) < 32; });
  return name;
}

const cmsToneCurve* Curve(cmsHPROFILE profile, cmsTagSignature tag) {
  return static_cast<const cmsToneCurve*>(cmsReadTag(profile, tag));
}

bool HasTables(cmsHPROFILE profile) {
  for (const cmsTagSignature tag : {cmsSigAToB0Tag, cmsSigAToB1Tag, cmsSigDToB0Tag, cmsSigDToB1Tag})
    if (cmsIsTag(profile, tag)) return true;
  return false;
}

// A profile that is only curves and a matrix; nullptr when it is not.
std::unique_ptr<Rec2020From> FromMatrixProfile(const RowLayout& layout, const Context& context,
                                               cmsHPROFILE profile) {
  if (cmsGetPCS(profile) != cmsSigXYZData || HasTables(profile)) return nullptr;
  if (layout.channels == 1) {
    const cmsToneCurve* grey = Curve(profile, cmsSigGrayTRCTag);
    if (grey == nullptr) return nullptr;
    return std::make_unique<Shaper>(
        layout, [curve = KeptCurve(context, grey)](int, double v) { return curve.At(v); }, kIdentity3);
  }
  if (layout.channels != 3) return nullptr;
  static constexpr cmsTagSignature kCurves[3] = {cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
  static constexpr cmsTagSignature kColorants[3] = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                                    cmsSigBlueColorantTag};
  std::vector<KeptCurve> curves;
  Mat3 pcs_from_rgb{};
  for (int c = 0; c < 3; ++c) {
    const cmsToneCurve* curve = Curve(profile, kCurves[c]);
    const auto* xyz = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile, kColorants[c]));
    if (curve == nullptr || xyz == nullptr) return nullptr;
    curves.emplace_back(context, curve);
    pcs_from_rgb[0][c] = xyz->X;
    pcs_from_rgb[1][c] = xyz->Y;
    pcs_from_rgb[2][c] = xyz->Z;
  }
  // The connection space is D50 (ICC.1); Bradford takes it to D65 (ICC.1 Annex E). Its white is stated to
  // four digits.
  const Vec3 pcs_white{0.9642, 1.0, 0.8249};
  const Mat3 to_d65 =
      color::Adaptation(pcs_white, color::XyzFromXy(color::kD65), color::AdaptMethod::kBradford);
  const Mat3 matrix = Mul(color::RgbFromXyz(color::Space::kRec2020), Mul(to_d65, pcs_from_rgb));
  for (const auto& row : matrix)
    for (const double v : row)
      if (!std::isfinite(v) || std::abs(v) > 1e3) return nullptr;
  return std::make_unique<Shaper>(
      layout, [curves](int c, double v) { return curves[static_cast<std::size_t>(c)].At(v); }, matrix);
}

std::unique_ptr<Rec2020From> FromProfile(const RowLayout& layout, std::span<const std::uint8_t> icc) {
  if (icc.empty() || icc.size() > (64u << 20)) return nullptr;
  Context context = MakeContext();
  Profile profile(
      cmsOpenProfileFromMemTHR(Raw(context), icc.data(), static_cast<cmsUInt32Number>(icc.size())));
  if (!profile) return nullptr;
  const cmsColorSpaceSignature wanted = layout.channels == 1   ? cmsSigGrayData
                                        : layout.channels == 3 ? cmsSigRgbData
                                                               : cmsSigCmykData;
  if (cmsGetColorSpace(profile.get()) != wanted) return nullptr;
  const std::string name = Description(profile.get());
  std::unique_ptr<Rec2020From> made = FromMatrixProfile(layout, context, profile.get());
  if (!made) {
    auto tables = std::make_unique<Tables>(std::move(context), std::move(profile), layout);
    if (!tables->ok()) return nullptr;
    made = std::move(tables);
  }
  made->name = name.empty() ? "unnamed profile" : name;
  return made;
}

std::unique_ptr<Rec2020From> FromSpace(const RowLayout& layout, color::Space space) {
  if (layout.channels == 4) {
    RowLayout rgb = layout;
    rgb.channels = 3;
    rgb.depth = Depth::kFloat;
    return std::make_unique<PlainInks>(layout, FromSpace(rgb, space));
  }
  return std::make_unique<Shaper>(
      layout, [space](int, double v) { return color::Decode(space, v); },
      color::RgbFromRgb(color::Space::kRec2020, space));
}

struct SpaceSpec {
  color::Xy white, red, green, blue;
};

SpaceSpec SpecOf(color::Space space) {
  const Mat3 m = color::XyzFromRgb(space);
  const auto primary = [&](int c) { return color::XyFromXyz({m[0][c], m[1][c], m[2][c]}); };
  return {color::White(space), primary(0), primary(1), primary(2)};
}

// The encodings as parametric curves of ICC.1 10.18 where they are exact, sampled otherwise.
cmsToneCurve* CurveOf(cmsContext context, color::Space space) {
  std::vector<float> samples(4096);
  for (std::size_t i = 0; i < samples.size(); ++i)
    samples[i] = static_cast<float>(color::Decode(space, static_cast<double>(i) / 4095.0));
  const double srgb[5] = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  switch (space) {
    case color::Space::kSrgb:
    case color::Space::kDisplayP3:
      return cmsBuildParametricToneCurve(context, 4, srgb);
    case color::Space::kAdobeRgb:
      return cmsBuildGamma(context, 563.0 / 256.0);
    default:
      return cmsBuildTabulatedToneCurveFloat(context, static_cast<cmsUInt32Number>(samples.size()),
                                             samples.data());
  }
}

Result<std::vector<std::uint8_t>> BuildProfile(color::Space space) {
  const Error failed{ErrorCode::kInternal,
                     std::string("the colour profile could not be made: ") + color::Name(space), "", ""};
  Context context = MakeContext();
  const SpaceSpec spec = SpecOf(space);
  const cmsCIExyY white = {spec.white.x, spec.white.y, 1.0};
  const cmsCIExyYTRIPLE primaries = {
      {spec.red.x, spec.red.y, 1.0}, {spec.green.x, spec.green.y, 1.0}, {spec.blue.x, spec.blue.y, 1.0}};
  const std::unique_ptr<cmsToneCurve, CurveCloser> curve(CurveOf(Raw(context), space));
  if (!curve) return failed;
  cmsToneCurve* curves[3] = {curve.get(), curve.get(), curve.get()};
  Profile profile(cmsCreateRGBProfileTHR(Raw(context), &white, &primaries, curves));
  if (!profile) return failed;
  cmsSetProfileVersion(profile.get(), 2.4);
  const auto write_text = [&](cmsTagSignature tag, const char* text) {
    cmsMLU* mlu = cmsMLUalloc(Raw(context), 1);
    const bool ok = cmsMLUsetASCII(mlu, "en", "US", text) && cmsWriteTag(profile.get(), tag, mlu);
    cmsMLUfree(mlu);
    return ok;
  };
  if (!write_text(cmsSigProfileDescriptionTag, color::Name(space)) ||
      !write_text(cmsSigCopyrightTag, "No copyright, use freely"))
    return failed;
  cmsUInt32Number size = 0;
  if (!cmsSaveProfileToMem(profile.get(), nullptr, &size)) return failed;
  std::vector<std::uint8_t> bytes(size);
  if (!cmsSaveProfileToMem(profile.get(), bytes.data(), &size)) return failed;
  // The header's creation time would make every delivered file differ: ICC.1 7.2 bytes 24..35 get a fixed
  // one.
  constexpr std::uint8_t kDate[12] = {0x07, 0xe8, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};
  std::copy(std::begin(kDate), std::end(kDate), bytes.begin() + 24);
  return bytes;
}

}  // namespace

std::unique_ptr<Rec2020From> MakeRec2020From(const RowLayout& layout, std::span<const std::uint8_t> icc,
                                             color::Space fallback, bool fallback_is_named) {
  if (auto made = FromProfile(layout, icc)) return made;
  auto made = FromSpace(layout, fallback);
  made->name = color::Name(fallback);
  made->assumed = !fallback_is_named || layout.channels == 4;
  return made;
}

Result<std::vector<std::uint8_t>> ProfileOf(color::Space space) {
  static std::mutex lock;
  static std::map<color::Space, std::vector<std::uint8_t>> made;
  const std::lock_guard guard(lock);
  if (const auto it = made.find(space); it != made.end()) return it->second;
  auto profile = BuildProfile(space);
  if (profile.ok()) made[space] = *profile;
  return profile;
}

}  // namespace samelight::codec
