#include "codec/write.h"

#include "base/file.h"
#include "codec/encode.h"
#include "codec/metadata.h"
#include "codec/profile.h"

namespace samelight::codec {
namespace {

Result<Bytes> Finish(Result<Bytes> encoded, int width, int height, const WriteOptions& options) {
  if (!encoded.ok()) return encoded;
  if (options.cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};
  if (Status s = PutMetadata(*encoded, width, height, options); !s) return s.error();
  return encoded;
}

Error WrongDepth(int bits) {
  return Error{ErrorCode::kInvalidArgument,
               "this format does not take " + std::to_string(bits) + "-bit pixels", "", ""};
}

template <class Pixels>
Status Write(const std::filesystem::path& path, const Pixels& encoded, const WriteOptions& options) {
  const auto bytes = EncodePicture(encoded, options);
  if (bytes.ok()) return WriteFileWhole(path, *bytes);
  Error error = bytes.error();
  error.file = path.string();
  return error;
}

}  // namespace

const char* Ending(Format format) {
  switch (format) {
    case Format::kJpeg:
      return ".jpg";
    case Format::kTiff8:
    case Format::kTiff16:
      return ".tif";
    case Format::kPng:
      return ".png";
  }
  return ".jpg";
}

Result<Bytes> EncodePicture(const image::RgbU8& encoded, const WriteOptions& options) {
  const auto icc = ProfileOf(options.space);
  if (!icc.ok()) return icc.error();
  const int w = encoded.width(), h = encoded.height();
  switch (options.format) {
    case Format::kJpeg:
      return Finish(
          EncodeJpegWith(encoded, options.quality, options.subsampling, options.dpi, *icc, options.cancel), w,
          h, options);
    case Format::kTiff8:
      return Finish(EncodeTiff(encoded, options.dpi, *icc, options.cancel), w, h, options);
    case Format::kPng:
      return Finish(EncodePng(encoded, options.dpi, *icc, options.cancel), w, h, options);
    case Format::kTiff16:
      break;
  }
  return WrongDepth(8);
}

Result<Bytes> EncodePicture(const image::RgbU16& encoded, const WriteOptions& options) {
  const auto icc = ProfileOf(options.space);
  if (!icc.ok()) return icc.error();
  const int w = encoded.width(), h = encoded.height();
  if (options.format == Format::kTiff16)
    return Finish(EncodeTiff(encoded, options.dpi, *icc, options.cancel), w, h, options);
  if (options.format == Format::kPng)
    return Finish(EncodePng(encoded, options.dpi, *icc, options.cancel), w, h, options);
  return WrongDepth(16);
}

Status WritePicture(const std::filesystem::path& path, const image::RgbU8& encoded,
                    const WriteOptions& options) {
  return Write(path, encoded, options);
}
Status WritePicture(const std::filesystem::path& path, const image::RgbU16& encoded,
                    const WriteOptions& options) {
  return Write(path, encoded, options);
}

Result<std::vector<std::uint8_t>> EncodeJpeg(const image::RgbU8& srgb, int quality) {
  return EncodeJpegWith(srgb, quality, Subsampling::k444, 72, {});
}

}  // namespace samelight::codec
