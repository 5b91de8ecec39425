#include "codec/memory.h"

#include <algorithm>

namespace samelight::codec {
namespace {

constexpr std::uint64_t kFloats = 12, kSixteen = 6, kEight = 3;  // bytes of a pixel

std::uint64_t PixelsOf(const record::Photo& photo) {
  return static_cast<std::uint64_t>(std::max(0, photo.width_px)) *
         static_cast<std::uint64_t>(std::max(0, photo.height_px));
}

// Pixels that are decoded; JPEG may be reduced on the way.
std::uint64_t DecodedPixels(const record::Photo& photo, const ReadOptions& options) {
  int shrink = 1;
  const int longest = std::max(photo.width_px, photo.height_px);
  if (photo.encoding == record::Encoding::kJpeg && options.at_least_long_side_px > 0)
    while (shrink < 8 && longest / (2 * shrink) >= options.at_least_long_side_px) shrink *= 2;
  return PixelsOf(photo) / static_cast<std::uint64_t>(shrink * shrink) + 1;
}

// A camera's JPEG has three channels (CIPA DC-008: compressed data are YCbCr). Other files may hold ink.
bool OfCamera(const record::Photo& photo) {
  return photo.encoding == record::Encoding::kJpeg && photo.role == record::Role::kFrame &&
         !photo.capture.body.empty();
}

}  // namespace

std::uint64_t PictureBytes(const record::Photo& photo, const ReadOptions& options) {
  const std::uint64_t pixels = DecodedPixels(photo, options);
  // What comes in floats though samples would do is not known before: raw files with noise or a lens that is
  // corrected, scans in grey, float TIFF, ink.
  if (photo.encoding == record::Encoding::kRaw) return pixels * (kFloats + kSixteen);
  return pixels * (options.keep_samples && OfCamera(photo) ? kEight : kFloats);
}

std::uint64_t ReadingBytes(const record::Photo& photo, const ReadOptions& options, bool spare) {
  const std::uint64_t pixels = PixelsOf(photo), picture = PictureBytes(photo, options);
  switch (photo.encoding) {
    case record::Encoding::kRaw:
      // The mosaic, LibRaw's four channels and our 16 bits, while floats of an earlier picture wait; then 16
      // bits and floats.
      return photo.bytes + std::max(picture, pixels * (2 + 8 + kSixteen + (spare ? kFloats : 0)));
    case record::Encoding::kJpeg:
      // Two bytes of each coefficient of a progressive file.
      return photo.bytes + pixels * (OfCamera(photo) ? 6 : 8) + picture;
    case record::Encoding::kTiff:
    case record::Encoding::kPng:
      return photo.bytes + picture;
  }
  return photo.bytes + picture;
}

std::uint64_t EncodingBytes(std::uint64_t pixels, bool sixteen_bits, const WriteOptions& options) {
  const std::uint64_t raw = pixels * (sixteen_bits ? kSixteen : kEight);
  // Twice the file: while its memory grows, and while metadata are put in.
  if (options.format != Format::kJpeg) return 2 * raw;
  // Two bytes of each coefficient, and a file that at this quality has at most so much of a picture full of
  // grain.
  const std::uint64_t file = options.quality > 97 ? raw : raw / 2;
  return pixels * kSixteen + 2 * file;
}

}  // namespace samelight::codec
