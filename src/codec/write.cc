#include "codec/write.h"

#include "base/file.h"
#include "codec/encode.h"
#include "codec/metadata.h"
#include "codec/profile.h"

namespace samelight::codec {
namespace {

Status Finish(const std::filesystem::path& path, Result<Bytes> encoded, int width, int height,
              const WriteOptions& options) {
  const auto about = [&](Error error) {
    error.file = path.string();
    return error;
  };
  if (!encoded.ok()) return about(encoded.error());
  if (Status s = CopyMetadata(*encoded, width, height, options); !s)
    return s.error().file.empty() ? about(s.error()) : s;
  return WriteFileWhole(path, *encoded);
}

Error WrongDepth(const std::filesystem::path& path, int bits) {
  return Error{ErrorCode::kInvalidArgument,
               "this format does not take " + std::to_string(bits) + "-bit pixels", path.string(), ""};
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

Status WritePicture(const std::filesystem::path& path, const image::RgbU8& encoded,
                    const WriteOptions& options) {
  const auto icc = ProfileOf(options.space);
  if (!icc.ok()) return icc.error();
  const int w = encoded.width(), h = encoded.height();
  switch (options.format) {
    case Format::kJpeg:
      return Finish(path, EncodeJpegWith(encoded, options.quality, options.subsampling, options.dpi, *icc), w,
                    h, options);
    case Format::kTiff8:
      return Finish(path, EncodeTiff(encoded, options.dpi, *icc), w, h, options);
    case Format::kPng:
      return Finish(path, EncodePng(encoded, options.dpi, *icc), w, h, options);
    case Format::kTiff16:
      break;
  }
  return WrongDepth(path, 8);
}

Status WritePicture(const std::filesystem::path& path, const image::RgbU16& encoded,
                    const WriteOptions& options) {
  const auto icc = ProfileOf(options.space);
  if (!icc.ok()) return icc.error();
  const int w = encoded.width(), h = encoded.height();
  if (options.format == Format::kTiff16)
    return Finish(path, EncodeTiff(encoded, options.dpi, *icc), w, h, options);
  if (options.format == Format::kPng)
    return Finish(path, EncodePng(encoded, options.dpi, *icc), w, h, options);
  return WrongDepth(path, 16);
}

Result<std::vector<std::uint8_t>> EncodeJpeg(const image::RgbU8& srgb, int quality) {
  return EncodeJpegWith(srgb, quality, Subsampling::k444, 72, {});
}

}  // namespace samelight::codec
