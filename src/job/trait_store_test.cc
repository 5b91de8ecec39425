#include "job/trait_store.h"

#include <gtest/gtest.h>

#include "job/delivery_testing.h"
#include "render/grain.h"

namespace samelight::job {
namespace {

class TraitStoreTest : public testing::DeliveryTest {};

TEST_F(TraitStoreTest, ComesBackBitForBitOrNotAtAll) {
  FilmTraits traits;
  traits.grain = render::FilmGrain(6, 12, 36);
  traits.grain.patches = 7;
  traits.roll_grain[RollId{3}] = render::FilmGrain(9, 10, 36);
  traits.roll_grain[RollId{8}] = {};
  traits.no_grain = "why";
  render::Acutance acutance{1500, {}, {}, 0.125};
  for (std::size_t k = 0; k < acutance.ratio.size(); ++k) {
    acutance.ratio[k] = 1 / (3.0 + static_cast<double>(k));
    acutance.weight[k] = 7.0 * static_cast<double>(k) / 3;
  }
  traits.acutance["a body raw"] = acutance;
  traits.acutance["a body jpeg"] = {};
  const fs::path file = folder_ / "cache" / "film-1";
  EXPECT_FALSE(ReadTraits(file));
  KeepTraits(file, traits);
  const std::optional<FilmTraits> back = ReadTraits(file);
  ASSERT_TRUE(back);
  EXPECT_EQ(back->grain, traits.grain);
  EXPECT_EQ(back->roll_grain, traits.roll_grain);
  EXPECT_EQ(back->no_grain, "why");
  ASSERT_EQ(back->acutance.size(), 2u);
  const render::Acutance& one = back->acutance.at("a body raw");
  EXPECT_EQ(one.long_side_px, 1500);
  EXPECT_EQ(one.ratio, acutance.ratio);
  EXPECT_EQ(one.weight, acutance.weight);
  EXPECT_EQ(one.overshoot, 0.125);

  std::vector<std::uint8_t> bytes = testing::BytesOf(file);
  for (std::size_t at = 0; at < bytes.size(); at += 37) {
    std::vector<std::uint8_t> damaged = bytes;
    damaged[at] ^= 1;
    ASSERT_TRUE(WriteFileWhole(file, damaged).ok());
    EXPECT_FALSE(ReadTraits(file)) << at;
  }
  bytes.resize(bytes.size() / 2);
  ASSERT_TRUE(WriteFileWhole(file, bytes).ok());
  EXPECT_FALSE(ReadTraits(file));
}

}  // namespace
}  // namespace samelight::job
