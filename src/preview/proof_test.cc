// Soft proofs against LittleCMS alone, with a profile that it makes.
#include <gtest/gtest.h>
#include <lcms2.h>

#include <algorithm>
#include <cmath>

#include "codec/monitor.h"
#include "codec/profile.h"
#include "preview/screen.h"
#include "preview/testing.h"

namespace samelight::preview {
namespace {

// The bytes of a profile of LittleCMS, which is closed.
std::vector<std::uint8_t> Saved(cmsHPROFILE profile) {
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::vector<std::uint8_t> bytes(size);
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  return bytes;
}

// A profile of a space whose colours reach half as far from the white as those of sRGB, by LittleCMS: about
// what a matt print holds. ICC.1 8.3: three curves and a matrix.
std::vector<std::uint8_t> SmallSpace() {
  const auto half = [](double v, double white) { return white + 0.5 * (v - white); };
  const cmsCIExyY white = {0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries = {{half(0.64, white.x), half(0.33, white.y), 1},
                                     {half(0.30, white.x), half(0.60, white.y), 1},
                                     {half(0.15, white.x), half(0.06, white.y), 1}};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 1.8);
  cmsToneCurve* curves[3] = {curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&white, &primaries, curves);
  cmsFreeToneCurve(curve);
  return Saved(profile);
}

// The way that a picture takes through LittleCMS alone: 16 bits in, 16 bits out, no table of ours.
std::vector<std::uint16_t> ByLittleCms(const std::vector<std::uint16_t>& rgb,
                                       const std::vector<std::uint8_t>& from,
                                       const std::vector<std::uint8_t>& monitor,
                                       const std::vector<std::uint8_t>& proof) {
  const auto open = [](const std::vector<std::uint8_t>& icc) {
    return cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size()));
  };
  cmsHPROFILE a = open(from), b = open(monitor), p = open(proof);
  cmsHTRANSFORM transform = cmsCreateProofingTransform(
      a, TYPE_RGB_16, b, TYPE_RGB_16, p, INTENT_RELATIVE_COLORIMETRIC, INTENT_RELATIVE_COLORIMETRIC,
      cmsFLAGS_SOFTPROOFING | cmsFLAGS_BLACKPOINTCOMPENSATION | cmsFLAGS_NOOPTIMIZE);
  std::vector<std::uint16_t> out(rgb.size());
  cmsDoTransform(transform, rgb.data(), out.data(), static_cast<cmsUInt32Number>(rgb.size() / 3));
  cmsDeleteTransform(transform);
  for (cmsHPROFILE one : {a, b, p}) cmsCloseProfile(one);
  return out;
}

// Colours from all of sRGB.
Sampled EvenlySpread() {
  Sampled sampled;
  sampled.linear.Resize(21 * 21, 21);
  const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  for (int r = 0; r < 21; ++r)
    for (int i = 0; i < 21 * 21; ++i) {
      Vec3 v{r / 20.0, i / 21 / 20.0, i % 21 / 20.0};
      for (double& c : v) c = color::Decode(color::Space::kSrgb, c);
      v = Mul(to, v);
      for (int c = 0; c < 3; ++c) sampled.linear.at(i, r)[c] = static_cast<float>(v[c]);
    }
  return sampled;
}

TEST(Proof, ASoftProofShowsWhatLittleCmsDoes) {
  const std::vector<std::uint8_t> srgb = *codec::ProfileOf(color::Space::kSrgb), small = SmallSpace();
  for (const bool wide : {false, true}) {
    const std::vector<std::uint8_t> p3 = *codec::ProfileOf(color::Space::kDisplayP3);
    const auto monitor = ProofOn(wide ? p3 : std::vector<std::uint8_t>(), small);
    ASSERT_TRUE(monitor.ok()) << monitor.error().Text();
    const Sampled sampled = EvenlySpread();
    const Mat3 to = color::RgbFromRgb(monitor->space, color::Space::kRec2020);
    std::vector<std::uint16_t> coded;
    for (std::size_t i = 0; i < sampled.linear.data().size(); i += 3) {
      const float* v = sampled.linear.data().data() + i;
      for (const double c : Mul(to, Vec3{v[0], v[1], v[2]}))
        coded.push_back(static_cast<std::uint16_t>(
            std::lround(65535 * color::Encode(monitor->space, std::clamp(c, 0.0, 1.0)))));
    }
    const std::vector<std::uint16_t> want =
        ByLittleCms(coded, *codec::ProfileOf(monitor->space), wide ? p3 : srgb, small);
    Shown plain, shown;
    ShowDisplay(sampled, *MonitorOf(wide ? p3 : std::vector<std::uint8_t>()), false, false, plain);
    ShowDisplay(sampled, *monitor, true, true, shown);
    double sum = 0, moved = 0, most = 0;
    for (std::size_t i = 0; i < want.size(); ++i) {
      const double off = std::abs(Channel(shown.argb[i / 3], static_cast<int>(i % 3)) - want[i] / 257.0);
      sum += off;
      most = std::max(most, off);
      moved += std::abs(Channel(plain.argb[i / 3], static_cast<int>(i % 3)) - want[i] / 257.0);
    }
    const auto values = static_cast<double>(want.size());
    EXPECT_GT(moved / values, 4) << "so small a space shows";
    EXPECT_LT(sum / values, 0.8) << "dither and 8 bits alone are 0.4";
    EXPECT_LT(most, 8) << "where the space ends within a cell of the table";
  }
}

TEST(Proof, AProofMarksWhatItsSpaceCannotHold) {
  const auto monitor = ProofOn({}, SmallSpace());
  ASSERT_TRUE(monitor.ok());
  Sampled sampled;
  sampled.linear.Resize(4, 1);
  const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  // Grey and a little red lie within half the reach of sRGB; its own red and green do not.
  const Vec3 colours[4] = {{0.2, 0.2, 0.2}, {0.3, 0.2, 0.2}, {0.5, 0.01, 0.01}, {0.02, 0.4, 0.02}};
  for (int i = 0; i < 4; ++i) {
    const Vec3 v = Mul(to, colours[i]);
    for (int c = 0; c < 3; ++c) sampled.linear.at(i, 0)[c] = static_cast<float>(v[c]);
  }
  Shown shown;
  ShowDisplay(sampled, *monitor, true, true, shown);
  for (int i = 0; i < 4; ++i)
    EXPECT_EQ((shown.marks[static_cast<std::size_t>(i)] & kOutOfGamut) != 0, i > 1) << i;
  ShowDisplay(sampled, {}, true, true, shown);
  for (const std::uint8_t marks : shown.marks) EXPECT_EQ(marks & kOutOfGamut, 0) << "all lie in sRGB";
}

TEST(Proof, WhatCannotBeProofedForIsRefused) {
  EXPECT_EQ(codec::CheckProof(std::vector<std::uint8_t>{1, 2, 3}).error().code, ErrorCode::kDamaged);
  EXPECT_TRUE(codec::CheckProof(SmallSpace()).ok());
  cmsHPROFILE lab = cmsCreateLab4Profile(nullptr);  // of no device
  EXPECT_EQ(codec::CheckProof(Saved(lab)).error().code, ErrorCode::kUnsupported);
}

}  // namespace
}  // namespace samelight::preview
