// What is exported, read back by others: OpenColorIO for the Common LUT Format, LittleCMS for the device
// link.
#include <gtest/gtest.h>
#include <lcms2.h>

#include <cstdio>
#include <fstream>

#ifdef SAMELIGHT_HAVE_OCIO
#include <OpenColorIO/OpenColorIO.h>
#endif

#include "codec/device_link.h"
#include "exchange/clf.h"
#include "exchange/testing.h"

namespace samelight::exchange {
namespace {

// An invented look of usual strength: SomeLook() with its means in the middle of what films do.
LookInLight SomeLightedLook() {
  record::LearnedLook look = SomeLook();
  std::vector<double>& p = look.look.mean;
  for (int i = 0; i < 6; ++i) {
    p[i] = 0.01 * (i % 2 ? -1 : 1);
    p[21 + i] = 0.02 * (i % 3 - 1);
    p[45 + i] = -0.05 - 0.01 * i;
  }
  for (int c = 0; c < 3; ++c) {
    const double layer[5] = {1.45 + 0.05 * c, -2.2 - 0.1 * c, -0.01 * c, std::log(0.28), std::log(0.45)};
    std::copy_n(layer, 5, p.begin() + 6 + 5 * c);
  }
  for (int i = 0; i < 6; ++i) {
    p[27 + 3 * i] = i - 3.0;
    p[28 + 3 * i] = 0.04 * (i % 3 - 1);
    p[29 + 3 * i] = i % 2 ? 1 : -1;
  }
  look.rule.mean = {-0.05, 0.5, 0.45, 0.02, 0, -0.02, -0.4, 0.4};
  return InUsualLight(look, 0);
}

TEST(LookTable, IsTheLookAtItsNodesAndNearItBetween) {
  const LookInLight look = SomeLightedLook();
  SilentProgress silent;
  const LookTable table = MakeTable(look, {}, 49, true, silent, {});
  const int n = table.nodes;
  const double x = table.shaper.Unshaped(20.0 / (n - 1));
  const Mat3 back = Inverse(table.matrix);
  const Vec3 node = Mul(back, Vec3{x, x, x});
  const Vec3 want = EncodedSrgb(look.Display(node)), got = table.At(node);
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(got[c], want[c], 1e-5);
  std::vector<Vec3> shown;
  for (const Vec3& probe : ProbeColours(table.shaper.most)) shown.push_back(table.At(probe));
  const TableError error = ErrorOf(look, table.shaper.most, shown);
  std::printf("table of %d: CIEDE2000 mean %.3f, most %.3f\n", n, error.mean, error.most);
  EXPECT_LT(error.mean, 0.08);
  EXPECT_LT(error.most, 0.8);
  EXPECT_GT(error.mean, 0);  // the probes do not lie on nodes
}

TEST(LookTable, IsForAUsuallyMeteredLight) {
  // Where the rule says so, a mid-grey of a usual light comes out near mid-grey, and a stop brighter is
  // lighter.
  record::LearnedLook look = SomeLook();
  look.rule.mean = {-0.05, 0.5, 0.45, 0.02, 0, -0.02, -0.4, 0.4};
  const LookInLight usual = InUsualLight(look, 0), bright = InUsualLight(look, 1);
  for (int c = 0; c < 3; ++c) {
    EXPECT_NEAR(usual.offset_log10[c], -0.05 - 0.5 * record::kUsualLevel + 0.02 * (1 - c), 1e-12);
    EXPECT_NEAR(bright.offset_log10[c] - usual.offset_log10[c], std::log10(2.0), 1e-12);
  }
}

#ifdef SAMELIGHT_HAVE_OCIO
TEST(Clf, OpenColorIoReadsTheSameColours) {
  namespace ocio = OCIO_NAMESPACE;
  const LookInLight look = SomeLightedLook();
  SilentProgress silent;
  const LookTable table = MakeTable(look, {}, 49, true, silent, {});
  const std::string file = testing::TempDir() + "/samelight_look.clf";
  std::ofstream(file) << ClfText(table, "meadow & \"north\" <lab>");
  const auto config = ocio::Config::CreateRaw();
  const auto transform = ocio::FileTransform::Create();
  transform->setSrc(file.c_str());
  const auto cpu = config->getProcessor(transform)->getOptimizedCPUProcessor(
      ocio::BIT_DEPTH_F32, ocio::BIT_DEPTH_F32, ocio::OPTIMIZATION_LOSSLESS);
  std::vector<Vec3> shown;
  double apart = 0;
  for (const Vec3& probe : ProbeColours(table.shaper.most)) {
    float rgb[3] = {static_cast<float>(probe[0]), static_cast<float>(probe[1]), static_cast<float>(probe[2])};
    cpu->applyRGB(rgb);
    const Vec3 own = table.At(probe);
    for (int c = 0; c < 3; ++c) apart = std::max(apart, std::abs(own[c] - rgb[c]));
    shown.push_back({rgb[0], rgb[1], rgb[2]});
  }
  const TableError error = ErrorOf(look, table.shaper.most, shown);
  std::printf("CLF through OpenColorIO: CIEDE2000 mean %.3f, most %.3f; %.5f from our own table\n",
              error.mean, error.most, apart);
  EXPECT_LT(error.mean, 0.08);
  EXPECT_LT(error.most, 0.8);
  EXPECT_LT(apart, 2e-4);
  std::remove(file.c_str());
}
#endif

TEST(DeviceLink, LittleCmsReadsTheSameColours) {
  const LookInLight look = SomeLightedLook();
  Shaper shaper;
  shaper.most = 1;
  SilentProgress silent;
  const LookTable table = MakeTable(look, shaper, 49, false, silent, {});
  const auto bytes = codec::DeviceLink([&](double x) { return shaper.Shaped(x); }, 49, table.rgb, "meadow");
  ASSERT_TRUE(bytes.ok()) << bytes.error().Text();
  const cmsHPROFILE profile =
      cmsOpenProfileFromMem(bytes->data(), static_cast<cmsUInt32Number>(bytes->size()));
  ASSERT_NE(profile, nullptr);
  EXPECT_EQ(cmsGetDeviceClass(profile), cmsSigLinkClass);
  const cmsHTRANSFORM transform =
      cmsCreateTransform(profile, TYPE_RGB_16, nullptr, TYPE_RGB_16, INTENT_PERCEPTUAL, cmsFLAGS_NOOPTIMIZE);
  ASSERT_NE(transform, nullptr);
  std::vector<Vec3> shown;
  for (const Vec3& probe : ProbeColours(1)) {
    std::uint16_t in[3], out[3];
    for (int c = 0; c < 3; ++c) in[c] = static_cast<std::uint16_t>(std::lround(65535 * probe[c]));
    cmsDoTransform(transform, in, out, 1);
    shown.push_back({out[0] / 65535.0, out[1] / 65535.0, out[2] / 65535.0});
  }
  cmsDeleteTransform(transform);
  cmsCloseProfile(profile);
  const TableError error = ErrorOf(look, 1, shown);
  std::printf("device link through LittleCMS: CIEDE2000 mean %.3f, most %.3f\n", error.mean, error.most);
  EXPECT_LT(error.mean, 0.1);
  EXPECT_LT(error.most, 1.0);
  EXPECT_FALSE(codec::DeviceLink([](double x) { return x; }, 49, {}, "empty").ok());
}

}  // namespace
}  // namespace samelight::exchange
