#include "codec/read.h"

#include <algorithm>
#include <chrono>
#include <cstring>
#include <span>
#include <vector>

#include <fmt/format.h>

#include "base/file.h"
#include "base/hash.h"
#include "codec/lens.h"
#include "codec/metadata.h"
#include "codec/orient.h"
#include "codec/profile.h"
#include "codec/raw.h"
#include "codec/rows.h"
#include "image/chroma_noise.h"

namespace samelight::codec {
namespace {

constexpr int kBandRows = 32;

std::string EndingOf(const std::filesystem::path& path) {
  std::string ending = path.extension().string();
  for (char& c : ending)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return ending;
}

bool IsTiffEnding(const std::string& ending) { return ending == ".tif" || ending == ".tiff"; }

// Endings of camera raw files that LibRaw reads.
bool IsRawEnding(const std::string& ending) {
  for (const char* raw : {".dng", ".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dcr", ".erf", ".fff",
                          ".iiq", ".kdc", ".mef", ".mos", ".mrw", ".nef", ".nrw", ".orf", ".pef",
                          ".raf", ".raw", ".rw2", ".rwl", ".sr2", ".srf", ".srw", ".x3f"})
    if (ending == raw) return true;
  return false;
}

enum class Kind { kJpeg, kPng, kTiff, kRaw };

bool Starts(std::span<const std::uint8_t> head, std::initializer_list<std::uint8_t> magic) {
  return head.size() >= magic.size() && std::equal(magic.begin(), magic.end(), head.begin());
}

bool IsTiffMagic(std::span<const std::uint8_t> head) {
  return Starts(head, {'I', 'I', 42, 0}) || Starts(head, {'M', 'M', 0, 42}) ||
         Starts(head, {'I', 'I', 43, 0}) || Starts(head, {'M', 'M', 0, 43});
}

// By content; the ending only tells raw files built on TIFF from plain TIFF.
Result<Kind> KindOf(std::span<const std::uint8_t> head, const std::filesystem::path& path) {
  if (head.empty())
    return Error{ErrorCode::kDamaged, "the file is empty", path.string(), "copy it again from its source"};
  if (Starts(head, {0xff, 0xd8, 0xff})) return Kind::kJpeg;
  if (Starts(head, {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'})) return Kind::kPng;
  const std::string ending = EndingOf(path);
  if (IsTiffMagic(head)) return IsRawEnding(ending) ? Kind::kRaw : Kind::kTiff;
  if (LooksLikeRaw(head)) return Kind::kRaw;
  if (LooksLikePicture(path))
    return Error{ErrorCode::kDamaged, fmt::format("the content is not that of a {} file", ending),
                 path.string(), "copy it again from its source, or leave it out"};
  return Error{ErrorCode::kUnsupported, "not a kind of picture that is read", path.string(),
               "raw, JPEG, TIFF and PNG are read"};
}

Error About(Error error, const std::filesystem::path& path) {
  error.file = path.string();
  return error;
}

Error OutOfMemory(const std::filesystem::path& path) {
  return Error{ErrorCode::kTooLarge, "there is not enough memory for this picture", path.string(),
               "close other programs, or leave it out"};
}
Error Unexpected(const std::filesystem::path& path, const std::exception& e) {
  return Error{ErrorCode::kInternal, fmt::format("reading failed: {}", e.what()), path.string(),
               "copy it again from its source, or leave it out"};
}

void FillCommon(const std::filesystem::path& path, Facts& facts, record::Photo& photo) {
  ReadSidecar(path, facts);
  photo.path = path.string();
  photo.capture = std::move(facts.capture);
  photo.crop = facts.crop;
  std::error_code ignored;
  photo.bytes = std::filesystem::file_size(path, ignored);
  const auto time = std::filesystem::last_write_time(path, ignored);
  if (!ignored)
    photo.modified_us = std::chrono::duration_cast<std::chrono::microseconds>(
                            std::chrono::file_clock::to_sys(time).time_since_epoch())
                            .count();
}

void FillSize(int width, int height, int orientation, record::Photo& photo) {
  photo.width_px = Turned(orientation) ? height : width;
  photo.height_px = Turned(orientation) ? width : height;
}

void FillRaw(const RawFacts& raw, record::Photo& photo) {
  photo.encoding = record::Encoding::kRaw;
  photo.raw = raw.colour;
  photo.profile_assumed = !raw.matrix_known;
  photo.profile_name = raw.matrix_known ? "camera matrix" : "no camera matrix, sRGB primaries assumed";
  FillSize(raw.width_px, raw.height_px, raw.orientation, photo);
}

record::Encoding EncodingOf(Kind kind) {
  switch (kind) {
    case Kind::kJpeg:
      return record::Encoding::kJpeg;
    case Kind::kPng:
      return record::Encoding::kPng;
    case Kind::kTiff:
      return record::Encoding::kTiff;
    case Kind::kRaw:
      return record::Encoding::kRaw;
  }
  return record::Encoding::kJpeg;
}

Result<RowReaderPtr> OpenRows(Kind kind, std::span<const std::uint8_t> bytes, int at_least,
                              const Limits& limits, const Cancel& cancel) {
  if (kind == Kind::kJpeg) return OpenJpeg(bytes, at_least, limits, cancel);
  if (kind == Kind::kPng) return OpenPng(bytes, limits);
  return OpenTiff(bytes, limits);
}

std::unique_ptr<Rec2020From> ColourOf(const RowReader& reader, const Facts& facts) {
  // Without a profile EXIF may still name a space (R03 is Adobe RGB (1998), ColorSpace 1 is sRGB), or a mark
  // of the format itself.
  return MakeRec2020From(reader.layout, reader.icc,
                         facts.adobe_rgb ? color::Space::kAdobeRgb : color::Space::kSrgb,
                         facts.adobe_rgb || facts.srgb_named || reader.srgb_named);
}

Result<Picture> ReadRows(Kind kind, std::span<const std::uint8_t> bytes, const Facts& facts,
                         const ReadOptions& options, Spare& spare) {
  auto opened = OpenRows(kind, bytes, options.at_least_long_side_px, options.limits, options.cancel);
  if (!opened.ok()) return opened.error();
  RowReader& reader = **opened;
  const int width = reader.layout.width_px, height = reader.layout.height_px;
  const std::shared_ptr<const Rec2020From> colour = ColourOf(reader, facts);
  const bool keep =
      options.keep_samples && reader.layout.channels == 3 && reader.layout.depth != Depth::kFloat;
  const bool eight = reader.layout.depth == Depth::k8;
  Picture picture;
  std::vector<std::uint8_t> rows(reader.layout.row_bytes() * kBandRows);
  const bool upright = facts.orientation < 2 || facts.orientation > 8;
  std::vector<float> linear(upright || keep ? 0 : static_cast<std::size_t>(width) * 3 * kBandRows);
  // After the first rows: a header alone must not cost the memory of a whole picture.
  const auto room = [&](auto& from, auto& to) {
    to = std::move(from);
    Turned(facts.orientation) ? to.Resize(height, width) : to.Resize(width, height);
  };
  for (int y = 0; y < height; y += kBandRows) {
    if (options.cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};
    const int count = std::min(kBandRows, height - y);
    if (Status s = reader.Read(count, rows.data()); !s)
      return options.cancel.requested() ? Error{ErrorCode::kCancelled, "stopped", "", ""} : s.error();
    const auto place = [&](const auto* from, auto& spared, auto& to) {
      if (y == 0) room(spared, to);
      PlaceRows(from, y, count, width, height, facts.orientation, to);
    };
    const auto pixels = static_cast<std::size_t>(width) * static_cast<std::size_t>(count);
    if (keep && eight) {
      place(rows.data(), spare.eight, picture.samples.eight);
    } else if (keep) {
      place(reinterpret_cast<const std::uint16_t*>(rows.data()), spare.sixteen, picture.samples.sixteen);
    } else if (upright) {
      if (y == 0) room(spare.linear, picture.pixels);
      colour->Convert(rows.data(), pixels, picture.pixels.row(y));
    } else {
      colour->Convert(rows.data(), pixels, linear.data());
      place(linear.data(), spare.linear, picture.pixels);
    }
  }
  if (keep)
    picture.samples.to_linear = [colour](const void* stored, std::size_t count, float* out) {
      colour->Convert(static_cast<const std::uint8_t*>(stored), count, out);
    };
  picture.photo.encoding = EncodingOf(kind);
  picture.photo.profile_name = colour->name;
  picture.photo.profile_assumed = colour->assumed;
  FillSize(reader.full_width_px, reader.full_height_px, facts.orientation, picture.photo);
  return picture;
}

// Camera RGB to linear BT.2020.
void Mix(const Mat3& m, image::RgbF& picture, const Cancel& cancel) {
  float f[3][3];
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) f[i][j] = static_cast<float>(m[i][j]);
  for (int y = 0; y < picture.height() && !cancel.requested(); ++y) {
    float* v = picture.row(y);
    for (int x = 0; x < picture.width(); ++x, v += 3) {
      const float r = v[0], g = v[1], b = v[2];
      for (std::size_t c = 0; c < 3; ++c) v[c] = f[c][0] * r + f[c][1] * g + f[c][2] * b;
    }
  }
}

Result<Picture> ReadRawPicture(std::span<const std::uint8_t> bytes, const Facts& facts,
                               const ReadOptions& options, Spare& spare) {
  const Error stopped{ErrorCode::kCancelled, "stopped", "", ""};
  const bool lens = options.correct_lens && !facts.capture.film_scanner && LensKnown(facts.capture);
  auto raw = ReadRaw(bytes, options.at_least_long_side_px, options.limits, options.cancel, !lens,
                     std::move(spare.sixteen));
  if (!raw.ok()) return raw.error();
  if (options.cancel.requested()) return stopped;
  Picture picture;
  picture.scene_referred = true;
  FillRaw(raw->facts, picture.photo);
  const Mat3& rec2020_from_camera = raw->facts.colour.rec2020_from_camera;
  if (lens) {  // works on the colours of the sensor
    picture.samples = image::SixteenLinear(std::move(raw->camera), raw->linear);
    picture.pixels = std::move(spare.linear);
    picture.lens_corrected =
        CorrectLens(facts.capture, picture.samples, raw->facts.orientation, picture.pixels, options.cancel);
    Mix(rec2020_from_camera, picture.pixels, options.cancel);
  } else {
    raw->linear.matrix = rec2020_from_camera;
    picture.samples = image::SixteenLinear(std::move(raw->camera), raw->linear);
  }
  const image::ChromaNoise noise =
      lens ? image::MeasureChromaNoise(picture.pixels) : image::MeasureChromaNoise(picture.samples);
  if (!lens && (noise.worth_reducing() || !options.keep_samples)) {
    picture.pixels = std::move(spare.linear);
    image::MakeLinear(picture.samples, picture.pixels, options.cancel);
  }
  if (noise.worth_reducing()) image::ReduceChromaNoise(picture.pixels, noise, options.cancel);
  if (!picture.pixels.empty()) {
    spare.sixteen = std::move(picture.samples.sixteen);
    picture.samples = {};
  }
  if (options.cancel.requested()) return stopped;
  return picture;
}

// A raw ending on what LibRaw does not know may still be a plain TIFF, and a TIFF ending may hide a raw file.
bool TryOther(const Error& error) { return error.code == ErrorCode::kUnsupported; }

}  // namespace

bool LooksLikePicture(const std::filesystem::path& path) {
  const std::string ending = EndingOf(path);
  return ending == ".jpg" || ending == ".jpeg" || ending == ".jpe" || ending == ".png" ||
         IsTiffEnding(ending) || IsRawEnding(ending);
}

namespace {

// The header of a JPEG may lie behind previews and profiles: more and more is read, up to the whole file.
Result<RowReaderPtr> OpenHeader(Kind kind, const std::filesystem::path& path, const Limits& limits,
                                std::vector<std::uint8_t>& head) {
  if (kind == Kind::kTiff) return OpenTiff(path, limits);
  for (;;) {
    auto reader = OpenRows(kind, head, 0, limits, Cancel());
    if (reader.ok() || reader.error().code != ErrorCode::kDamaged) return reader;
    auto more = ReadFileHead(path, limits.most_file_bytes, std::uint64_t{head.size()} * 16);
    if (!more.ok()) return more.error();
    if (more->size() == head.size()) return reader;
    head = std::move(*more);
  }
}

}  // namespace

Result<record::Photo> ReadFacts(const std::filesystem::path& path, const Limits& limits) try {
  auto head = ReadFileHead(path, limits.most_file_bytes, 1u << 18);
  if (!head.ok()) return head.error();
  auto kind = KindOf(*head, path);
  if (!kind.ok()) return kind.error();
  Facts facts = ReadMetadata(path);
  record::Photo photo;
  if (*kind == Kind::kRaw) {
    const auto raw = ReadRawFacts(path, limits);
    if (raw.ok()) {
      FillRaw(*raw, photo);
      FillCommon(path, facts, photo);
      return photo;
    }
    if (!TryOther(raw.error()) || !IsTiffMagic(*head)) return About(raw.error(), path);
    kind = Kind::kTiff;
  }
  const auto reader = OpenHeader(*kind, path, limits, *head);
  if (!reader.ok()) {
    if (*kind != Kind::kTiff || !TryOther(reader.error())) return About(reader.error(), path);
    const auto raw = ReadRawFacts(path, limits);
    if (!raw.ok()) return About(reader.error(), path);
    FillRaw(*raw, photo);
  } else {
    const auto colour = ColourOf(**reader, facts);
    photo.encoding = EncodingOf(*kind);
    photo.profile_name = colour->name;
    photo.profile_assumed = colour->assumed;
    FillSize((*reader)->full_width_px, (*reader)->full_height_px, facts.orientation, photo);
  }
  FillCommon(path, facts, photo);
  return photo;
} catch (const std::bad_alloc&) {
  return OutOfMemory(path);
} catch (const std::exception& e) {
  return Unexpected(path, e);
}

void Spare::Take(Picture&& picture) {
  if (!picture.pixels.empty()) linear = std::move(picture.pixels);
  if (!picture.samples.eight.empty()) eight = std::move(picture.samples.eight);
  if (!picture.samples.sixteen.empty()) sixteen = std::move(picture.samples.sixteen);
}

Result<Picture> ReadPicture(const std::filesystem::path& path, const ReadOptions& options, Spare* spare) try {
  Spare none;
  Spare& memory = spare != nullptr ? *spare : none;
  if (options.cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", path.string(), ""};
  auto bytes = ReadFile(path, options.limits.most_file_bytes, options.cancel);
  if (!bytes.ok()) return bytes.error();
  auto kind = KindOf(*bytes, path);
  if (!kind.ok()) return kind.error();
  const std::string hash = HashOf(*bytes, options.cancel);
  if (hash.empty()) return Error{ErrorCode::kCancelled, "stopped", path.string(), ""};
  std::shared_ptr<const Metadata> metadata;
  Facts facts = ReadMetadata(*bytes, options.keep_metadata ? &metadata : nullptr);
  Result<Picture> picture = *kind == Kind::kRaw ? ReadRawPicture(*bytes, facts, options, memory)
                                                : ReadRows(*kind, *bytes, facts, options, memory);
  if (!picture.ok() && TryOther(picture.error()) && IsTiffMagic(*bytes))
    picture = *kind == Kind::kRaw ? ReadRows(Kind::kTiff, *bytes, facts, options, memory)
                                  : ReadRawPicture(*bytes, facts, options, memory);
  if (!picture.ok()) return About(picture.error(), path);
  FillCommon(path, facts, picture->photo);
  picture->photo.hash = hash;
  picture->metadata = std::move(metadata);
  return picture;
} catch (const std::bad_alloc&) {
  return OutOfMemory(path);
} catch (const std::exception& e) {
  return Unexpected(path, e);
}

}  // namespace samelight::codec
