#include "simulate/uplift.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/cie_tables.h"
#include "color/difference.h"
#include "color/lab.h"
#include "color/space.h"
#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

using color::Spectrum;

Spectrum At(const std::vector<Spectrum>& nodes, float r, float g, float b) {
  const auto place = ChromaGrid::Find(r, g, b);
  Spectrum out{};
  for (int n = 0; n < 3; ++n)
    for (int k = 0; k < color::kSpectrumCount; ++k)
      out[k] += place.sum * place.weight[n] * nodes[place.node[n]][k];
  return out;
}

Vec3 SrgbOf(const Spectrum& reflectance) {
  return Mul(color::RgbFromXyz(color::Space::kSrgb),
             color::XyzOfReflectance(reflectance, color::kIlluminantD65));
}

Vec3 LabUnder(const Spectrum& reflectance, const Spectrum& light) {
  return color::LabFromXyz(color::XyzOfReflectance(reflectance, light), color::XyzOfIlluminant(light));
}

// Colours of surfaces: inside the triangle that real ones fill.
const float kColours[][3] = {{0.5f, 0.5f, 0.5f},    {0.18f, 0.17f, 0.16f}, {0.45f, 0.27f, 0.19f},
                             {0.12f, 0.18f, 0.05f}, {0.75f, 0.72f, 0.62f}, {0.35f, 0.05f, 0.06f},
                             {0.05f, 0.09f, 0.30f}, {0.6f, 0.5f, 0.08f},   {0.02f, 0.02f, 0.025f},
                             {0.5f, 0.2f, 0.45f}};

TEST(Uplift, KeepsTheColourUnderD65) {
  for (int m = 0; m < static_cast<int>(Material::kCount); ++m)
    for (const auto& c : kColours) {
      const Vec3 rgb = SrgbOf(At(Uplift(static_cast<Material>(m)), c[0], c[1], c[2]));
      // The nodes are pulled 0.2 % toward neutral; the rest is the grid's own arithmetic.
      for (int k = 0; k < 3; ++k) EXPECT_NEAR(rgb[k], c[k], 0.004 * (c[0] + c[1] + c[2])) << m;
    }
}

TEST(Uplift, IsPositiveAndHardlyAboveOneWhereSensorsSee) {
  // 400 to 690 nm; a white with the red edge of a leaf goes higher beyond, where neither film nor camera
  // looks.
  for (int m = 0; m < static_cast<int>(Material::kCount); ++m)
    for (const auto& c : kColours) {
      const Spectrum s = At(Uplift(static_cast<Material>(m)), c[0], c[1], c[2]);
      for (double v : s) EXPECT_GT(v, 0);
      for (int k = 4; k <= 62; ++k) EXPECT_LT(s[k], 1.3) << m << " " << color::WavelengthNm(k);
    }
}

TEST(Uplift, SkinColourGivesMeasuredSkin) {
  // Every one of the measured persons, by colour alone, comes back with the shape of the measurement: the two
  // dips of oxygenated blood at 545 and 575 nm included.
  double worst = 0, mean = 0;
  int count = 0;
  for (const auto& person : Table("skin")) {
    const Vec3 rgb = SrgbOf(person.values);
    const Spectrum made = At(Uplift(Material::kSkin), static_cast<float>(rgb[0]), static_cast<float>(rgb[1]),
                             static_cast<float>(rgb[2]));
    double sum = 0;
    int bands = 0;
    for (int k = 6; k < 70; ++k, ++bands) sum += std::pow(made[k] - person.values[k], 2);
    const double rms = std::sqrt(sum / bands);
    worst = std::max(worst, rms);
    mean += rms;
    ++count;
  }
  EXPECT_LT(mean / count, 0.015);
  EXPECT_LT(worst, 0.05);
  const Spectrum skin = At(Uplift(Material::kSkin), 0.45f, 0.27f, 0.19f);
  const auto at = [&](int nm) { return skin[(nm - color::kSpectrumFirstNm) / color::kSpectrumStepNm]; };
  EXPECT_LT(at(575), at(560) + 0.01);  // the W of haemoglobin
}

TEST(Uplift, GreenOfLeavesHasTheRedEdge) {
  const auto edge = [](Material material) {
    const Spectrum s = At(Uplift(material), 0.12f, 0.18f, 0.05f);
    return s[(750 - 380) / 5] / s[(675 - 380) / 5];
  };
  // USGS Spectral Library v7, ratio of 750 to 675 nm: aspen leaf 8.2, rush 10.7, pine needle 3.5, dry
  // grass 1.18. The grass of a meadow is a mix of green and dry; a flat prior has no edge.
  EXPECT_GT(edge(Material::kLeaf), 3);
  EXPECT_GT(edge(Material::kGrass), 1.18 * 1.5);
  EXPECT_LT(edge(Material::kGrass), edge(Material::kLeaf));
  EXPECT_LT(edge(Material::kSmooth), 2);
}

TEST(Uplift, OneColourIsNotOneSpectrum) {
  // Same colour in daylight, visibly other colour under illuminant A: metamerism.
  const auto apart = [](Material a, Material b, const float* c) {
    return color::Ciede2000(LabUnder(At(Uplift(a), c[0], c[1], c[2]), color::kIlluminantA),
                            LabUnder(At(Uplift(b), c[0], c[1], c[2]), color::kIlluminantA));
  };
  const float green[3] = {0.12f, 0.18f, 0.05f}, skin[3] = {0.45f, 0.27f, 0.19f},
              blue[3] = {0.05f, 0.09f, 0.30f};
  EXPECT_GT(apart(Material::kLeaf, Material::kPaint, green), 0.8);
  EXPECT_GT(apart(Material::kSkin, Material::kDyedCloth, skin), 0.5);
  EXPECT_GT(apart(Material::kDyedCloth, Material::kSky, blue), 0.5);
}

TEST(ChromaGrid, FindsEveryPlaceOfTheTriangle) {
  for (int i = 0; i <= 200; ++i)
    for (int j = 0; i + j <= 200; ++j) {
      const float r = i / 200.0f, g = j / 200.0f, b = (200 - i - j) / 200.0f;
      const auto place = ChromaGrid::Find(r, g, b);
      float sum = 0, back_r = 0, back_g = 0;
      for (int n = 0; n < 3; ++n) {
        ASSERT_GE(place.node[n], 0);
        ASSERT_LT(place.node[n], ChromaGrid::kNodes);
        ASSERT_GE(place.weight[n], -1e-4f);
        sum += place.weight[n];
        for (int y = 0; y <= ChromaGrid::kSide; ++y)
          if (const int x = place.node[n] - ChromaGrid::Node(0, y); x >= 0 && x + y <= ChromaGrid::kSide) {
            back_r += place.weight[n] * x / ChromaGrid::kSide;
            back_g += place.weight[n] * y / ChromaGrid::kSide;
          }
      }
      ASSERT_NEAR(sum, 1, 1e-4);
      ASSERT_NEAR(back_r, r, 1e-4) << r << " " << g;
      ASSERT_NEAR(back_g, g, 1e-4) << r << " " << g;
    }
  EXPECT_EQ(ChromaGrid::Find(0, 0, 0).sum, 0);
  EXPECT_EQ(ChromaGrid::Find(std::nanf(""), 0, 0).sum, 0);
  EXPECT_EQ(ChromaGrid::Find(-1, -1, -1).sum, 0);
}

TEST(Palette, EveryPhotographHasOne) {
  EXPECT_EQ(PaletteFor("life_by_somebody").first[4], Material::kLeaf);
  EXPECT_EQ(PaletteFor("unknown").first[2], Material::kSkin);
}

}  // namespace
}  // namespace samelight::simulate
