// One fuzzed target; SAMELIGHT_FUZZ_TARGET names it.
#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <random>
#include <vector>

#include "tests/fuzz/targets.h"

extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

// What steers a decoder stands at the front of a file, or at its end (directories of TIFF): two of three
// changes are made there, and keep the file's length. A session has it everywhere.
extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size, std::size_t most,
                                               unsigned seed) {
  std::minstd_rand dice(seed);
  const unsigned side = static_cast<unsigned>(dice()) % 3;
  constexpr std::size_t kWindow = 1536;
  if (side == 2 || size <= kWindow) return LLVMFuzzerMutate(data, size, most);
  const bool anywhere = std::strcmp(SAMELIGHT_FUZZ_TARGET, "session") == 0;
  std::uint8_t* const from = anywhere    ? data + dice() % (size - kWindow)
                             : side == 0 ? data
                                         : data + size - kWindow;
  std::vector<std::uint8_t> part(from, from + kWindow);
  const std::size_t changed = LLVMFuzzerMutate(part.data(), kWindow, kWindow);
  std::memcpy(from, part.data(), std::min(changed, kWindow));
  return size;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const samelight::fuzz::Target* const target = [] {
    for (const samelight::fuzz::Target& each : samelight::fuzz::Targets())
      if (each.name == SAMELIGHT_FUZZ_TARGET) return &each;
    std::abort();
  }();
  target->run({data, size});
  return 0;
}
