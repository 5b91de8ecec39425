#include "codec/device_link.h"

#include <lcms2.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace samelight::codec {
namespace {

std::uint16_t Word(double v) {
  return static_cast<std::uint16_t>(std::lround(65535 * std::clamp(v, 0.0, 1.0)));
}

template <class T, class F>
auto Kept(T* thing, F close) {
  return std::unique_ptr<T, F>(thing, close);
}

}  // namespace

Result<std::vector<std::uint8_t>> DeviceLink(const std::function<double(double)>& shaped, int nodes,
                                             const std::vector<float>& table,
                                             const std::string& description) {
  const Error failed{ErrorCode::kInternal, "the device link could not be made", description, ""};
  if (nodes < 2 || nodes > 64 || table.size() != static_cast<std::size_t>(nodes) * nodes * nodes * 3)
    return failed;
  const auto held = Kept(static_cast<void*>(cmsCreateContext(nullptr, nullptr)),
                         [](void* c) { cmsDeleteContext(static_cast<cmsContext>(c)); });
  const auto context = static_cast<cmsContext>(held.get());
  cmsSetLogErrorHandlerTHR(context, [](cmsContext, cmsUInt32Number, const char*) {});
  const auto profile =
      Kept(static_cast<void*>(cmsCreateProfilePlaceholder(context)), [](void* p) { cmsCloseProfile(p); });
  cmsSetProfileVersion(profile.get(), 2.4);
  cmsSetDeviceClass(profile.get(), cmsSigLinkClass);
  cmsSetColorSpace(profile.get(), cmsSigRgbData);
  cmsSetPCS(profile.get(), cmsSigRgbData);

  constexpr int kSamples = 4096;  // as many as lut16Type takes
  std::vector<std::uint16_t> curve, straight = {0, 65535}, cube;
  for (int i = 0; i < kSamples; ++i) curve.push_back(Word(shaped(i / (kSamples - 1.0))));
  for (const float v : table) cube.push_back(Word(v));
  const auto free_curve = [](cmsToneCurve* c) { cmsFreeToneCurve(c); };
  const auto in = Kept(cmsBuildTabulatedToneCurve16(context, kSamples, curve.data()), free_curve);
  const auto out = Kept(cmsBuildTabulatedToneCurve16(context, 2, straight.data()), free_curve);
  cmsToneCurve* ins[3] = {in.get(), in.get(), in.get()};
  cmsToneCurve* outs[3] = {out.get(), out.get(), out.get()};
  const auto pipeline = Kept(cmsPipelineAlloc(context, 3, 3), [](cmsPipeline* p) { cmsPipelineFree(p); });
  bool ok = in && out && pipeline;
  ok = ok && cmsPipelineInsertStage(pipeline.get(), cmsAT_END, cmsStageAllocToneCurves(context, 3, ins));
  ok = ok && cmsPipelineInsertStage(
                 pipeline.get(), cmsAT_END,
                 cmsStageAllocCLut16bit(context, static_cast<cmsUInt32Number>(nodes), 3, 3, cube.data()));
  ok = ok && cmsPipelineInsertStage(pipeline.get(), cmsAT_END, cmsStageAllocToneCurves(context, 3, outs));
  ok = ok && cmsWriteTag(profile.get(), cmsSigAToB0Tag, pipeline.get());
  const auto text = [&](cmsTagSignature tag, const char* words) {
    const auto mlu = Kept(cmsMLUalloc(context, 1), [](cmsMLU* m) { cmsMLUfree(m); });
    return mlu && cmsMLUsetASCII(mlu.get(), "en", "US", words) && cmsWriteTag(profile.get(), tag, mlu.get());
  };
  ok = ok && text(cmsSigProfileDescriptionTag, description.c_str()) &&
       text(cmsSigCopyrightTag, "No copyright, use freely");
  // Which profiles a link was made of is a required tag; this one was made of none.
  const auto sequence = Kept(cmsAllocProfileSequenceDescription(context, 1),
                             [](cmsSEQ* s) { cmsFreeProfileSequenceDescription(s); });
  ok = ok && sequence && cmsWriteTag(profile.get(), cmsSigProfileSequenceDescTag, sequence.get());
  cmsUInt32Number size = 0;
  if (!ok || !cmsSaveProfileToMem(profile.get(), nullptr, &size)) return failed;
  std::vector<std::uint8_t> bytes(size);
  if (!cmsSaveProfileToMem(profile.get(), bytes.data(), &size)) return failed;
  return bytes;
}

}  // namespace samelight::codec
