// Writes the inputs to begin with: make_corpus FOLDER gives FOLDER/<target>/seed-N.
#include <cstdio>
#include <filesystem>

#include "base/file.h"
#include "tests/fuzz/targets.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: make_corpus FOLDER\n");
    return 2;
  }
  for (const samelight::fuzz::Target& target : samelight::fuzz::Targets()) {
    const std::filesystem::path folder = std::filesystem::path(argv[1]) / target.name;
    std::filesystem::create_directories(folder);
    int n = 0;
    for (const samelight::fuzz::Bytes& seed : samelight::fuzz::Seeds(target.name))
      if (!samelight::WriteFileWhole(folder / ("seed-" + std::to_string(++n)), seed).ok()) return 1;
    std::printf("%s: %d inputs\n", target.name.c_str(), n);
  }
  return 0;
}
