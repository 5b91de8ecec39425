// Pictures, files and small helpers for the tests of this folder.
#pragma once

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "codec/dng.h"
#include "color/difference.h"
#include "color/lab.h"
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
  const std::filesystem::path& path() const { return path_; }

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

// Output of a shell command, errors included.
inline std::string Run(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return out;
  std::array<char, 4096> part;
  while (const std::size_t got = std::fread(part.data(), 1, part.size(), pipe)) out.append(part.data(), got);
  ::pclose(pipe);
  return out;
}

// The values of `tags` as exiftool reads them (numbers, not words), one line each; "-" for a missing one. One
// call for many tags: starting it costs more than reading.
inline std::vector<std::string> Exif(const std::filesystem::path& file,
                                     const std::vector<std::string>& tags) {
  std::string command = "exiftool -n -f -s3";
  for (const auto& tag : tags) command += " -" + tag;
  std::istringstream lines(Run(command + " '" + file.string() + "'"));
  std::vector<std::string> values;
  for (std::string line; std::getline(lines, line);) values.push_back(line);
  values.resize(tags.size());
  return values;
}

// Four flat quarters, no two alike: red, green / blue, white (0.8 and 0.2 of full scale).
inline constexpr double kQuarters[4][3] = {{.8, .2, .2}, {.2, .8, .2}, {.2, .2, .8}, {.8, .8, .8}};

template <class T>
image::Raster<T, 3> Quarters(int width, int height) {
  const double full = static_cast<double>(static_cast<T>(~T{0}));
  image::Raster<T, 3> out(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x)
      for (int c = 0; c < 3; ++c)
        out.at(x, y)[c] = static_cast<T>(kQuarters[(y >= height / 2) * 2 + (x >= width / 2)][c] * full + 0.5);
  return out;
}

// Which stored quarter (0..3, row by row) lies at upright quarter `at` for an EXIF orientation, from the
// table of CIPA DC-008 4.6.5 (tag 274): the visual side on which row 0 and column 0 lie.
inline int StoredQuarter(int orientation, int at) {
  static constexpr const char* kSides[9][2] = {
      {"", ""},        {"top", "left"},  {"top", "right"},    {"bottom", "right"}, {"bottom", "left"},
      {"left", "top"}, {"right", "top"}, {"right", "bottom"}, {"left", "bottom"}};
  const std::string row0 = kSides[orientation][0], column0 = kSides[orientation][1];
  const auto on = [&](const std::string& side) {
    return side == "top" ? at < 2 : side == "bottom" ? at >= 2 : side == "left" ? at % 2 == 0 : at % 2 == 1;
  };
  return (on(row0) ? 0 : 2) + (on(column0) ? 0 : 1);
}

// Middle of a quarter.
inline Vec3 QuarterColour(const image::RgbF& picture, int at) {
  const float* v =
      picture.at(picture.width() * (1 + 2 * (at % 2)) / 4, picture.height() * (1 + 2 * (at / 2)) / 4);
  return {v[0], v[1], v[2]};
}

// What a quarter encoded in `space` is in linear BT.2020.
inline Vec3 QuarterRec2020(int quarter, color::Space space = color::Space::kSrgb) {
  Vec3 v{};
  for (std::size_t c = 0; c < 3; ++c) v[c] = color::Decode(space, kQuarters[quarter][c]);
  return Mul(color::RgbFromRgb(color::Space::kRec2020, space), v);
}

inline double Difference(const Vec3& a_rec2020, const Vec3& b_rec2020) {
  return color::Ciede2000(color::LabFromRec2020(a_rec2020), color::LabFromRec2020(b_rec2020));
}

// An invented camera: sRGB's primaries through a crosstalk matrix (rows sum to 1), unequal sensitivities.
inline Mat3 CameraFromXyz() {
  const Mat3 crosstalk{{{0.70, 0.25, 0.05}, {0.15, 0.75, 0.10}, {0.05, 0.25, 0.70}}};
  return Mul(Diagonal({0.55, 1.0, 0.72}), Mul(crosstalk, color::RgbFromXyz(color::Space::kSrgb)));
}

// A DNG description of that camera in D65.
inline DngSpec CameraSpec() {
  DngSpec spec;
  spec.camera_from_xyz = CameraFromXyz();
  const Vec3 n = Mul(spec.camera_from_xyz, color::XyzFromXy(color::kD65));
  spec.as_shot_neutral = {n[0] / n[1], 1, n[2] / n[1]};
  return spec;
}

// Raw counts of a linear BT.2020 colour (`scene(x, y)`) seen by the camera of `spec`; green of white is the
// white level.
template <class Scene>
image::Raster<std::uint16_t, 1> Mosaic(const DngSpec& spec, int width, int height, const Scene& scene) {
  const Mat3 camera_from_rec2020 = Mul(spec.camera_from_xyz, color::XyzFromRgb(color::Space::kRec2020));
  const double green = Mul(camera_from_rec2020, Vec3{1, 1, 1})[1];
  image::Raster<std::uint16_t, 1> out(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const Vec3 camera = Mul(camera_from_rec2020, Vec3(scene(x, y)));
      const double v = camera[spec.pattern[static_cast<std::size_t>(y % 2 * 2 + x % 2)]] / green;
      const double count = std::round(spec.black + v * (spec.white - spec.black));
      *out.at(x, y) = static_cast<std::uint16_t>(count < 0 ? 0 : count > spec.white ? spec.white : count);
    }
  return out;
}

}  // namespace samelight::codec::testing
