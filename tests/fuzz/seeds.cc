#include <unistd.h>

#include <cmath>
#include <filesystem>

#include "base/file.h"
#include "codec/dng.h"
#include "codec/profile.h"
#include "codec/read.h"
#include "codec/write.h"
#include "exchange/look_file.h"
#include "exchange/testing.h"
#include "session/pack.h"
#include "tests/fuzz/session_seeds.h"
#include "tests/fuzz/targets.h"

namespace samelight::fuzz {
namespace {

namespace fs = std::filesystem;

class Folder {
 public:
  Folder() : path_(fs::temp_directory_path() / ("samelight-seeds-" + std::to_string(::getpid()))) {
    fs::create_directories(path_);
  }
  ~Folder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  fs::path operator/(const std::string& name) const { return path_ / name; }

 private:
  fs::path path_;
};

template <class T>
image::Raster<T, 3> Picture() {
  image::Raster<T, 3> out(48, 32);
  for (std::size_t i = 0; i < out.data().size(); ++i)
    out.data()[i] = static_cast<T>((0.5 + 0.4 * std::sin(0.37 * static_cast<double>(i))) *
                                   static_cast<double>(static_cast<T>(~T{0})));
  return out;
}

void Add(const fs::path& file, std::vector<Bytes>& seeds) {
  if (auto bytes = ReadFile(file, 1u << 24); bytes.ok()) seeds.push_back(std::move(bytes).value());
}

void AddRaw(const Folder& folder, std::vector<Bytes>& seeds) {
  codec::DngSpec spec;
  spec.capture.make = "Invented";
  spec.capture.body = "Body";
  spec.capture.time_us = 1'717'254'245'123'000;
  image::Raster<std::uint16_t, 1> mosaic(64, 48);
  for (std::size_t i = 0; i < mosaic.data().size(); ++i)
    mosaic.data()[i] = static_cast<std::uint16_t>(600 + 37 * i % 9000);
  if (codec::WriteDng(folder / "a.dng", mosaic, spec).ok()) Add(folder / "a.dng", seeds);
}

// The same raw picture under other names of its compression (TIFF 6.0 section 8, tag 259; DNG 1.4 names 7, 8
// and 34892; the others are those that LibRaw tells apart in its loaders) and with other samples than it has,
// so that decoders of raw data are reached.
void AddRawKinds(std::vector<Bytes>& seeds) {
  const Bytes whole = seeds.front();
  const auto with = [&](std::uint16_t tag, std::uint16_t value) {
    Bytes seed = whole;
    for (std::size_t i = 8; i + 12 <= seed.size(); ++i)
      // An entry of a little-endian directory: tag, SHORT, one value.
      if (seed[i] == (tag & 255) && seed[i + 1] == tag >> 8 && seed[i + 2] == 3 && seed[i + 3] == 0 &&
          seed[i + 4] == 1) {
        seed[i + 8] = static_cast<std::uint8_t>(value & 255);
        seed[i + 9] = static_cast<std::uint8_t>(value >> 8);
      }
    seeds.push_back(std::move(seed));
  };
  for (const int compression : {7, 8, 99, 262, 32767, 32769, 32770, 32773, 34713, 34892, 65000, 65535})
    with(259, static_cast<std::uint16_t>(compression));
  for (const int bits : {8, 12, 14}) with(258, static_cast<std::uint16_t>(bits));
  with(277, 3);
  with(262, 34892);  // LinearRaw
}

void AddPictures(const Folder& folder, const std::string& which, std::vector<Bytes>& seeds) {
  AddRaw(folder, seeds);  // lends its metadata
  codec::WriteOptions options;
  if (auto kept = codec::KeepMetadata(folder / "a.dng"); kept.ok()) options.metadata = *kept;
  options.copyright = "C";
  if (which == "raw") AddRawKinds(seeds);
  if (which != "raw" && which != "metadata") seeds.clear();
  const auto put = [&](const std::string& name, const auto& pixels) {
    if (codec::WritePicture(folder / name, pixels, options).ok()) Add(folder / name, seeds);
  };
  if (which == "jpeg" || which == "metadata") {
    put("a.jpg", Picture<std::uint8_t>());
    options.subsampling = codec::Subsampling::k420;
    put("b.jpg", Picture<std::uint8_t>());
  }
  if (which == "tiff" || which == "metadata") {
    options.format = codec::Format::kTiff8;
    put("a.tif", Picture<std::uint8_t>());
    options.format = codec::Format::kTiff16;
    put("b.tif", Picture<std::uint16_t>());
  }
  if (which == "png" || which == "metadata") {
    options.format = codec::Format::kPng;
    put("a.png", Picture<std::uint8_t>());
    put("b.png", Picture<std::uint16_t>());
  }
}

record::FrameSolution Solution() {
  record::FrameSolution solution;
  solution.frame = PhotoId{2};
  solution.correction.unify.tone_in = {-3, 0};
  solution.correction.unify.tone_out = {-3, 0};
  solution.left_over.resize(2);
  solution.flags = {{record::FlagKind::kLeftOver, "a reason", "reason"}};
  return solution;
}

void AddRecords(std::vector<Bytes>& seeds) {
  const auto add = [&](std::uint8_t which, const session::Bytes& body) {
    Bytes seed = {which};
    seed.insert(seed.end(), body.begin(), body.end());
    seeds.push_back(std::move(seed));
  };
  record::Photo photo;
  photo.capture.body = "body";
  photo.crop = record::Crop{};
  add(0, session::PackFacts(photo));
  record::Measured measured;
  measured.regions.resize(2);
  measured.faces.resize(1);
  add(1, session::Pack(measured));
  record::Correspondence matches;
  matches.cells.resize(3);
  add(2, session::Pack(matches));
  add(3, session::Pack(Solution()));
  add(4, session::Pack(std::vector<PhotoId>{PhotoId{1}, PhotoId{2}}));
  add(5, session::Pack(session::Word(session::KeepOrder{})));
  add(5, session::Pack(session::Word(session::LightTogether{{PhotoId{1}}})));
  add(5, session::Pack(session::Word(session::Approve{"web", {PhotoId{1}}, {"d"}})));
  add(5, session::Pack(session::Word(session::TakeLook{"meadow", "{}"})));
}

}  // namespace

std::vector<Bytes> Seeds(const std::string& target) {
  const Folder folder;
  std::vector<Bytes> seeds;
  if (target == "session") {
    seeds = SessionSeeds(folder / "");
  } else if (target == "records") {
    AddRecords(seeds);
  } else if (target == "look") {
    const std::string text = exchange::LookText(exchange::SomeLook());
    seeds.emplace_back(text.begin(), text.end());
  } else if (target == "profile") {
    for (const color::Space space : {color::Space::kSrgb, color::Space::kRomm, color::Space::kRec2020})
      if (auto icc = codec::ProfileOf(space); icc.ok()) seeds.push_back(std::move(icc).value());
  } else {
    AddPictures(folder, target, seeds);
  }
  return seeds;
}

}  // namespace samelight::fuzz
