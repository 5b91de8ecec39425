#include "tests/fuzz/targets.h"

#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "codec/metadata.h"
#include "codec/profile.h"
#include "codec/raw.h"
#include "codec/rows.h"
#include "exchange/look_file.h"
#include "session/pack.h"
#include "session/session.h"

namespace samelight::fuzz {
namespace {

using Span = std::span<const std::uint8_t>;

// Small, so that an input is worth no more than a moment.
codec::Limits Small() {
  codec::Limits limits;
  limits.most_pixels = 1 << 20;
  limits.most_file_bytes = 8 << 20;
  return limits;
}

void ReadAll(Result<codec::RowReaderPtr> opened) {
  if (!opened.ok()) return;
  codec::RowReader& reader = **opened;
  std::vector<std::uint8_t> rows(reader.layout.row_bytes() * 16);
  for (int y = 0; y < reader.layout.height_px; y += 16)
    if (!reader.Read(std::min(16, reader.layout.height_px - y), rows.data()).ok()) return;
}

void Jpeg(Span bytes) {
  ReadAll(codec::OpenJpeg(bytes, 0, Small()));
  ReadAll(codec::OpenJpeg(bytes, 16, Small()));
}
void Tiff(Span bytes) { ReadAll(codec::OpenTiff(bytes, Small())); }
void Png(Span bytes) { ReadAll(codec::OpenPng(bytes, Small())); }
void Raw(Span bytes) {
  if (codec::LooksLikeRaw(bytes)) static_cast<void>(codec::ReadRaw(bytes, 0, Small(), Cancel()).ok());
}
void Metadata(Span bytes) {
  std::shared_ptr<const codec::Metadata> kept;
  codec::ReadMetadata(bytes, &kept);
}
void Profile(Span bytes) {
  for (const int channels : {1, 3, 4}) {
    codec::RowLayout layout;
    layout.width_px = 16;
    layout.height_px = 1;
    layout.channels = channels;
    const auto from = codec::MakeRec2020From(layout, bytes, color::Space::kSrgb, false);
    std::vector<std::uint8_t> row(layout.row_bytes(), 100);
    std::vector<float> linear(3 * 16);
    from->Convert(row.data(), 16, linear.data());
  }
}
void Session(Span bytes) {
  // In memory where there is such a place, and never synced: what is fuzzed is the reading.
  static const std::filesystem::path folder = std::filesystem::is_directory("/dev/shm")
                                                  ? std::filesystem::path("/dev/shm")
                                                  : std::filesystem::temp_directory_path();
  const std::filesystem::path file = folder / ("samelight-fuzz-" + std::to_string(::getpid()) + ".samelight");
  std::ofstream(file, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  if (auto session = session::Session::Open(file, session::Access::kRead); session.ok()) {
    static_cast<void>((*session)->Photos().ok());
    static_cast<void>((*session)->Rolls().ok());
    static_cast<void>((*session)->Measured().ok());
    static_cast<void>((*session)->Pairs().ok());
    static_cast<void>((*session)->Match().ok());
    static_cast<void>((*session)->Deliveries().ok());
    static_cast<void>((*session)->Problems().ok());
    if (auto words = (*session)->Words(); words.ok()) session::Fold(*words);
    static_cast<void>((*session)->History().ok());
  }
  std::error_code ignored;
  for (const char* rest : {"", "-wal", "-shm"}) std::filesystem::remove(file.string() + rest, ignored);
}
void Look(Span bytes) {
  auto look = exchange::ReadLook({reinterpret_cast<const char*>(bytes.data()), bytes.size()}, "look");
  if (look.ok()) exchange::LookText(*look);
}
// The first byte says which record the rest is.
void Records(Span bytes) {
  if (bytes.empty()) return;
  const session::Bytes body(bytes.begin() + 1, bytes.end());
  record::Photo photo;
  record::Measured measured;
  record::Correspondence matches;
  record::FrameSolution solution;
  std::vector<PhotoId> photos;
  session::Word word;
  switch (bytes[0] % 6) {
    case 0:
      session::UnpackFacts(body, photo);
      break;
    case 1:
      session::Unpack(body, measured);
      break;
    case 2:
      session::Unpack(body, matches);
      break;
    case 3:
      session::Unpack(body, solution);
      break;
    case 4:
      session::Unpack(body, photos);
      break;
    default:
      if (session::Unpack(body, word)) session::Fold({word});
  }
}

}  // namespace

const std::vector<Target>& Targets() {
  static const std::vector<Target> targets = {
      {"jpeg", Jpeg},       {"tiff", Tiff},       {"png", Png},         {"raw", Raw},  {"metadata", Metadata},
      {"profile", Profile}, {"session", Session}, {"records", Records}, {"look", Look}};
  return targets;
}

}  // namespace samelight::fuzz
