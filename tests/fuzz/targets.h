// What is fed with bytes of strangers: every decoder, metadata, profiles, look files, the session file and
// the records in it. A target must not crash, hang, leak or ask for memory out of all proportion; what it
// answers does not matter.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace samelight::fuzz {

using Bytes = std::vector<std::uint8_t>;

struct Target {
  std::string name;  // of its folder of inputs
  void (*run)(std::span<const std::uint8_t> bytes);
};
const std::vector<Target>& Targets();

// Inputs to begin with, from our own writers.
std::vector<Bytes> Seeds(const std::string& target);

}  // namespace samelight::fuzz
