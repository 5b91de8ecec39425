// The fuzzed targets in every test run: the inputs to begin with, cut short and damaged at fixed places, and
// every input that a fuzzer once found to break something (tests/fuzz/found).
#include <gtest/gtest.h>

#include <filesystem>
#include <random>

#include "base/file.h"
#include "tests/fuzz/targets.h"

namespace samelight::fuzz {
namespace {

namespace fs = std::filesystem;

class ReplayTest : public testing::TestWithParam<std::string> {
 protected:
  const Target& target() const {
    for (const Target& each : Targets())
      if (each.name == GetParam()) return each;
    throw std::logic_error("no such target");
  }
};

TEST_P(ReplayTest, SeedsWholeCutAndDamaged) {
  const std::vector<Bytes> seeds = Seeds(GetParam());
  ASSERT_FALSE(seeds.empty());
  std::mt19937 dice(7);
  for (const Bytes& seed : seeds) {
    ASSERT_FALSE(seed.empty());
    target().run(seed);
    for (std::size_t i = 0; i < 12; ++i) target().run(std::span(seed).first(seed.size() * i / 12));
    for (int i = 0; i < 40; ++i) {
      Bytes damaged = seed;
      // Most of what steers a decoder stands in front.
      const std::size_t range = i % 2 == 0 ? std::min<std::size_t>(512, seed.size()) : seed.size();
      for (int k = 0; k < 1 + i % 4; ++k) damaged[dice() % range] = static_cast<std::uint8_t>(dice());
      target().run(damaged);
    }
  }
}

TEST_P(ReplayTest, WhatWasFoundOnce) {
  const fs::path folder = fs::path(SAMELIGHT_SOURCE_DIR) / "tests" / "fuzz" / "found" / GetParam();
  if (!fs::exists(folder)) GTEST_SKIP() << "nothing was found here so far";
  for (const auto& entry : fs::directory_iterator(folder)) {
    SCOPED_TRACE(entry.path().string());
    const auto bytes = ReadFile(entry.path(), 1u << 24);
    ASSERT_TRUE(bytes.ok());
    target().run(*bytes);
  }
}

std::vector<std::string> Names() {
  std::vector<std::string> names;
  for (const Target& target : Targets()) names.push_back(target.name);
  return names;
}
INSTANTIATE_TEST_SUITE_P(Fuzz, ReplayTest, testing::ValuesIn(Names()),
                         [](const auto& it) { return it.param; });

}  // namespace
}  // namespace samelight::fuzz
