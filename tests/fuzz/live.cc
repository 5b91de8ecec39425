// One fuzzed target; SAMELIGHT_FUZZ_TARGET names it.
#include <cstdlib>

#include "tests/fuzz/targets.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const samelight::fuzz::Target* const target = [] {
    for (const samelight::fuzz::Target& each : samelight::fuzz::Targets())
      if (each.name == SAMELIGHT_FUZZ_TARGET) return &each;
    std::abort();
  }();
  target->run({data, size});
  return 0;
}
