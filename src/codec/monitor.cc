#include "codec/monitor.h"

#include <lcms2.h>

#include <memory>

#include "codec/profile.h"

namespace samelight::codec {
namespace {

struct ContextCloser {
  void operator()(void* c) const { cmsDeleteContext(static_cast<cmsContext>(c)); }
};
struct ProfileCloser {
  void operator()(void* p) const { cmsCloseProfile(p); }
};
struct TransformCloser {
  void operator()(void* t) const { cmsDeleteTransform(t); }
};

}  // namespace

Result<std::vector<float>> MonitorTable(std::span<const std::uint8_t> icc, color::Space from, int nodes) {
  Result<std::vector<std::uint8_t>> own = ProfileOf(from);
  if (!own.ok()) return own.error();
  const std::unique_ptr<void, ContextCloser> context(cmsCreateContext(nullptr, nullptr));
  cmsContext raw = static_cast<cmsContext>(context.get());
  cmsSetLogErrorHandlerTHR(raw, [](cmsContext, cmsUInt32Number, const char*) {});
  const auto open = [&](std::span<const std::uint8_t> bytes) {
    return std::unique_ptr<void, ProfileCloser>(
        cmsOpenProfileFromMemTHR(raw, bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
  };
  const auto monitor = open(icc), source = open(*own);
  if (!monitor)
    return Error{ErrorCode::kDamaged, "this is not a colour profile", "",
                 "choose the profile of the monitor"};
  if (cmsGetColorSpace(monitor.get()) != cmsSigRgbData ||
      cmsGetDeviceClass(monitor.get()) != cmsSigDisplayClass)
    return Error{ErrorCode::kUnsupported, "this profile is not one of a monitor", "",
                 "choose a display profile (RGB)"};
  const std::unique_ptr<void, TransformCloser> transform(cmsCreateTransformTHR(
      raw, source.get(), TYPE_RGB_FLT, monitor.get(), TYPE_RGB_FLT, INTENT_RELATIVE_COLORIMETRIC,
      cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE | cmsFLAGS_BLACKPOINTCOMPENSATION));
  if (!transform)
    return Error{ErrorCode::kUnsupported, "this profile cannot be used for showing pictures", "",
                 "choose another profile of the monitor"};
  const auto count = static_cast<std::size_t>(nodes) * nodes * nodes;
  std::vector<float> in, out(3 * count);
  in.reserve(3 * count);
  for (int r = 0; r < nodes; ++r)
    for (int g = 0; g < nodes; ++g)
      for (int b = 0; b < nodes; ++b)
        for (const int v : {r, g, b}) in.push_back(static_cast<float>(v) / static_cast<float>(nodes - 1));
  cmsDoTransform(transform.get(), in.data(), out.data(), static_cast<cmsUInt32Number>(count));
  for (float& v : out) v = v > 0 ? (v < 1 ? v : 1) : 0;  // not a number counts as 0
  return out;
}

}  // namespace samelight::codec
