#include "simulate/lighting.h"

#include <gtest/gtest.h>

#include "color/spectrum.h"
#include "color/temperature.h"

namespace samelight::simulate {
namespace {

color::CctDuv Of(const color::Spectrum& power) {
  return color::CctDuvFromXy(color::XyFromXyz(color::XyzOfIlluminant(power)));
}

TEST(Lighting, EveryKindIsPositiveAndOfUnitLuminance) {
  for (int kind = 0; kind < static_cast<int>(LightKind::kCount); ++kind)
    for (std::uint64_t seed : {1, 2, 3, 4}) {
      const Lighting light = MakeLighting(static_cast<LightKind>(kind), seed, seed % 2 == 0,
                                          seed < 3 ? World::kUsual : World::kUnseen);
      EXPECT_FALSE(light.name.empty());
      for (const auto* power : {&light.key, &light.fill}) {
        const color::Spectrum unit = UnitY(*power);
        for (std::size_t k = 0; k < unit.size(); ++k) {
          EXPECT_GE((*power)[k], 0);
          EXPECT_NEAR((*power)[k], unit[k], 1e-9) << light.name;
        }
      }
    }
}

// Order of colour temperature as every table of light sources has it (common practice).
TEST(Lighting, ColoursAreThoseOfTheirKind) {
  const auto key = [](LightKind kind) { return Of(MakeLighting(kind, 1, false).key).cct_k; };
  EXPECT_LT(key(LightKind::kCandles), 2200);
  EXPECT_LT(key(LightKind::kCandles), key(LightKind::kBulbs));
  EXPECT_LT(key(LightKind::kBulbs), key(LightKind::kEveningSun));
  EXPECT_LT(key(LightKind::kEveningSun), key(LightKind::kNoonSun));
  EXPECT_LT(key(LightKind::kNoonSun), key(LightKind::kOvercast));
  EXPECT_LT(key(LightKind::kOvercast), key(LightKind::kOpenShade));
}

TEST(Lighting, LeavesMakeLightGreener) {
  const color::Spectrum day = UnitY(color::DaylightSpectrum(6000));
  EXPECT_GT(Of(ThroughLeaves(day, 0.3)).duv, Of(day).duv + 0.004);
}

TEST(Lighting, FlashIsDaylight) { EXPECT_NEAR(Of(Flash()).cct_k, 5600, 60); }

}  // namespace
}  // namespace samelight::simulate
