// Pictures and files for the tests of this folder.
#pragma once

#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "codec/dng.h"
#include "color/space.h"
#include "image/raster.h"

namespace samelight::codec::testing {

// A folder that goes away with the test.
class Folder {
 public:
  Folder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "samelight-codec-XXXXXX").string();
    path_ = ::mkdtemp(pattern.data());
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

inline void WriteBytes(const std::filesystem::path& path, const std::vector<std::uint8_t>& bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

inline std::vector<std::uint8_t> ReadBytes(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// Output of a shell command.
inline std::string Run(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  std::array<char, 4096> part;
  while (const std::size_t got = std::fread(part.data(), 1, part.size(), pipe)) out.append(part.data(), got);
  ::pclose(pipe);
  return out;
}

// Four flat quarters of different colours, none alike under any turn: red, green / blue, white (values of the
// type's full scale times 0.8, 0.2).
template <class T>
image::Raster<T, 3> Quarters(int width, int height) {
  const double full = static_cast<double>(static_cast<T>(~T{0}));
  const double colours[4][3] = {{.8, .2, .2}, {.2, .8, .2}, {.2, .2, .8}, {.8, .8, .8}};
  image::Raster<T, 3> out(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x)
      for (int c = 0; c < 3; ++c)
        out.at(x, y)[c] = static_cast<T>(colours[(y >= height / 2) * 2 + (x >= width / 2)][c] * full + 0.5);
  return out;
}

// A camera of our own: its primaries are sRGB's through a crosstalk matrix (invented, rows sum to 1).
inline Mat3 CameraFromXyz() {
  const Mat3 crosstalk{{{0.70, 0.25, 0.05}, {0.15, 0.75, 0.10}, {0.05, 0.25, 0.70}}};
  return Mul(Diagonal({0.55, 1.0, 0.72}), Mul(crosstalk, color::RgbFromXyz(color::Space::kSrgb)));
}

}  // namespace samelight::codec::testing
