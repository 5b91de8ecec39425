#include "codec/monitor.h"

#include <lcms2.h>

#include <memory>

#include "codec/profile.h"
#include "color/difference.h"

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

using Context = std::unique_ptr<void, ContextCloser>;
using Profile = std::unique_ptr<void, ProfileCloser>;
using Transform = std::unique_ptr<void, TransformCloser>;

constexpr cmsUInt32Number kFlags = cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE | cmsFLAGS_BLACKPOINTCOMPENSATION;

// Each use has a context of its own; messages are swallowed.
Context MakeContext() {
  Context context(cmsCreateContext(nullptr, nullptr));
  cmsSetLogErrorHandlerTHR(static_cast<cmsContext>(context.get()),
                           [](cmsContext, cmsUInt32Number, const char*) {});
  return context;
}

Profile OpenProfile(const Context& context, std::span<const std::uint8_t> bytes) {
  return Profile(cmsOpenProfileFromMemTHR(static_cast<cmsContext>(context.get()), bytes.data(),
                                          static_cast<cmsUInt32Number>(bytes.size())));
}

Result<Profile> OpenMonitor(const Context& context, std::span<const std::uint8_t> bytes) {
  Profile monitor = OpenProfile(context, bytes);
  if (!monitor)
    return Error{ErrorCode::kDamaged, "this is not a colour profile", "",
                 "choose the profile of the monitor"};
  if (cmsGetColorSpace(monitor.get()) != cmsSigRgbData ||
      cmsGetDeviceClass(monitor.get()) != cmsSigDisplayClass)
    return Error{ErrorCode::kUnsupported, "this profile is not one of a monitor", "",
                 "choose a display profile (RGB)"};
  return monitor;
}

Result<Profile> OpenProof(const Context& context, std::span<const std::uint8_t> bytes) {
  Profile proof = OpenProfile(context, bytes);
  if (!proof)
    return Error{ErrorCode::kDamaged, "this is not a colour profile", "",
                 "choose the profile of the print or space to proof for"};
  const cmsColorSpaceSignature space = cmsGetColorSpace(proof.get());
  const cmsProfileClassSignature kind = cmsGetDeviceClass(proof.get());
  const bool device =
      kind == cmsSigOutputClass || kind == cmsSigDisplayClass || kind == cmsSigColorSpaceClass;
  const bool known = space == cmsSigRgbData || space == cmsSigCmykData || space == cmsSigGrayData;
  // To be shown, it has to be left again; a profile that only tells the way in cannot be proofed for.
  if (!device || !known ||
      !cmsIsIntentSupported(proof.get(), INTENT_RELATIVE_COLORIMETRIC, LCMS_USED_AS_OUTPUT) ||
      !cmsIsIntentSupported(proof.get(), INTENT_RELATIVE_COLORIMETRIC, LCMS_USED_AS_INPUT))
    return Error{ErrorCode::kUnsupported, "this profile is not one of a print or a space", "",
                 "choose the profile that the printer or the gallery gives (RGB, CMYK or grey)"};
  return proof;
}

// All nodes of a table, blue running fastest.
std::vector<float> Nodes(int nodes) {
  std::vector<float> in;
  in.reserve(3 * static_cast<std::size_t>(nodes) * nodes * nodes);
  for (int r = 0; r < nodes; ++r)
    for (int g = 0; g < nodes; ++g)
      for (int b = 0; b < nodes; ++b)
        for (const int v : {r, g, b}) in.push_back(static_cast<float>(v) / static_cast<float>(nodes - 1));
  return in;
}

std::vector<float> Run(const Transform& transform, const std::vector<float>& in) {
  std::vector<float> out(in.size());
  cmsDoTransform(transform.get(), in.data(), out.data(), static_cast<cmsUInt32Number>(in.size() / 3));
  return out;
}

void ToRange(std::vector<float>& values) {
  for (float& v : values) v = v > 0 ? (v < 1 ? v : 1) : 0;  // not a number counts as 0
}

}  // namespace

Result<std::vector<float>> MonitorTable(std::span<const std::uint8_t> icc, color::Space from, int nodes) {
  Result<std::vector<std::uint8_t>> own = ProfileOf(from);
  if (!own.ok()) return own.error();
  const Context context = MakeContext();
  const Result<Profile> monitor = OpenMonitor(context, icc);
  if (!monitor.ok()) return monitor.error();
  const Profile source = OpenProfile(context, *own);
  const Transform transform(cmsCreateTransformTHR(static_cast<cmsContext>(context.get()), source.get(),
                                                  TYPE_RGB_FLT, monitor->get(), TYPE_RGB_FLT,
                                                  INTENT_RELATIVE_COLORIMETRIC, kFlags));
  if (!transform)
    return Error{ErrorCode::kUnsupported, "this profile cannot be used for showing pictures", "",
                 "choose another profile of the monitor"};
  std::vector<float> out = Run(transform, Nodes(nodes));
  ToRange(out);
  return out;
}

Status CheckProof(std::span<const std::uint8_t> proof) {
  const Context context = MakeContext();
  const Result<Profile> opened = OpenProof(context, proof);
  return opened.ok() ? Status() : Status(opened.error());
}

Result<ProofTable> MonitorProof(std::span<const std::uint8_t> monitor_icc,
                                std::span<const std::uint8_t> proof_icc, color::Space from, int nodes) {
  Result<std::vector<std::uint8_t>> own = ProfileOf(from), srgb = ProfileOf(color::Space::kSrgb);
  if (!own.ok()) return own.error();
  if (!srgb.ok()) return srgb.error();
  const Context context = MakeContext();
  const auto raw = static_cast<cmsContext>(context.get());
  const Result<Profile> monitor =
      OpenMonitor(context, monitor_icc.empty() ? std::span<const std::uint8_t>(*srgb) : monitor_icc);
  if (!monitor.ok()) return monitor.error();
  const Result<Profile> proof = OpenProof(context, proof_icc);
  if (!proof.ok()) return proof.error();
  const Profile source = OpenProfile(context, *own), lab(cmsCreateLab4ProfileTHR(raw, nullptr));
  const auto by_way_of_proof = [&](void* to, cmsUInt32Number format) {
    return Transform(cmsCreateProofingTransformTHR(raw, source.get(), TYPE_RGB_FLT, to, format, proof->get(),
                                                   INTENT_RELATIVE_COLORIMETRIC, INTENT_RELATIVE_COLORIMETRIC,
                                                   kFlags | cmsFLAGS_SOFTPROOFING));
  };
  const Transform shown = by_way_of_proof(monitor->get(), TYPE_RGB_FLT);
  const Transform left = by_way_of_proof(lab.get(), TYPE_Lab_FLT);
  const Transform asked(cmsCreateTransformTHR(raw, source.get(), TYPE_RGB_FLT, lab.get(), TYPE_Lab_FLT,
                                              INTENT_RELATIVE_COLORIMETRIC, kFlags));
  if (!shown || !left || !asked)
    return Error{ErrorCode::kUnsupported, "this profile cannot be used for a soft proof", "",
                 "choose another profile of the print or space"};
  const std::vector<float> in = Nodes(nodes);
  ProofTable table{Run(shown, in), {}};
  ToRange(table.rgb);
  const std::vector<float> a = Run(asked, in), b = Run(left, in);
  table.beyond.reserve(in.size() / 3);
  for (std::size_t i = 0; i < in.size(); i += 3)
    table.beyond.push_back(
        static_cast<float>(color::Ciede2000({a[i], a[i + 1], a[i + 2]}, {b[i], b[i + 1], b[i + 2]})));
  return table;
}

}  // namespace samelight::codec
