#include "base/hash.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

namespace samelight {
namespace {

struct Row {
  std::size_t length;
  const char* hex;
};

// The xxHash project's own test values for XXH128, seed 0, all of them (its sanity check; high half first).
// The lengths go through every branch of the algorithm.
constexpr Row kPublished[] = {
    {0, "99aa06d3014798d86001c324468d497f"},    {1, "a6cd5e9392000f6ac44bdff4074eecdb"},
    {6, "082afe0b8162d12a3e7039bdda43cfc6"},    {12, "6e3efd8fc7802b18061a192713f69ad9"},
    {24, "0ce966e4678d37611e7044d28b1b901d"},   {48, "a002ac4e5478227ef942219aed80f67b"},
    {81, "4952f58181ab00425e8bafb9f95fb803"},   {222, "337e09641b948717f1aebd597cec6b3a"},
    {403, "1b6de21e332dd73dcdeb804d65c6dea4"},  {512, "18d2d110dcc9bca1617e49599013cb6b"},
    {2048, "f736557fd47073a5dd59e2c3a5f038e0"}, {2240, "ccb134fbfa7ce49d6e73a90539cf2948"},
    {2367, "e89c0f6ff369b427cb37aeb9e5d361ed"},
};

// The bytes that those values are for: top byte of a running product of two primes named by the algorithm.
std::vector<std::uint8_t> PublishedInput(std::size_t length) {
  std::vector<std::uint8_t> bytes(length);
  std::uint64_t state = 2654435761U;
  for (std::uint8_t& byte : bytes) {
    byte = static_cast<std::uint8_t>(state >> 56);
    state *= 11400714785074694797U;
  }
  return bytes;
}

TEST(ContentHash, AsPublished) {
  for (const Row& row : kPublished) {
    const std::vector<std::uint8_t> bytes = PublishedInput(row.length);
    ContentHash hash;
    hash.Add(bytes.data(), bytes.size());
    EXPECT_EQ(hash.Hex(), row.hex) << row.length;
  }
}

TEST(ContentHash, DoesNotDependOnThePieces) {
  for (const Row& row : kPublished) {
    const std::vector<std::uint8_t> bytes = PublishedInput(row.length);
    ContentHash hash;
    for (std::size_t at = 0, piece = 1; at < bytes.size(); at += piece, piece = piece * 3 % 251) {
      hash.Add(bytes.data() + at, std::min(piece, bytes.size() - at));
      hash.Hex();  // asking in between changes nothing
    }
    EXPECT_EQ(hash.Hex(), row.hex) << row.length;
  }
}

}  // namespace
}  // namespace samelight
