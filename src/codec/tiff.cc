// TIFF 6.0 by libtiff, in and out.
#include <tiffio.h>

#include <algorithm>
#include <cstring>

#include <fmt/format.h>

#include "codec/encode.h"
#include "codec/rows.h"
#include "codec/tiff_memory.h"

namespace samelight::codec {
namespace {

constexpr std::uint64_t kMostSampleBytes = 8;  // per pixel of the limit: four samples of 16 bits

class TiffReader final : public RowReader {
 public:
  explicit TiffReader(std::span<const std::uint8_t> bytes) : memory_(bytes) {}

  Status Open(const Limits& limits, const std::filesystem::path& path = {}) {
    const std::uint64_t most_bytes = limits.most_pixels * kMostSampleBytes;
    tiff_ = path.empty() ? memory_.Open(most_bytes) : memory_.OpenFile(path, most_bytes);
    if (!tiff_) return Damaged("the TIFF header is damaged");
    if (Status s = ChoosePage(); !s) return s;
    std::uint32_t width = 0, height = 0;
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGELENGTH, &height);
    if (Status s = CheckSize(width, height, limits); !s) return s;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_BITSPERSAMPLE, &bits_);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SAMPLESPERPIXEL, &samples_);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SAMPLEFORMAT, &format_);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_PLANARCONFIG, &planar_);
    if (!TIFFGetField(tiff_.get(), TIFFTAG_PHOTOMETRIC, &photometric_))
      photometric_ = samples_ >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
    layout.width_px = full_width_px = static_cast<int>(width);
    layout.height_px = full_height_px = static_cast<int>(height);
    const std::uint64_t pixel_bytes = std::uint64_t(samples_) * ((bits_ + 7) / 8);
    if (pixel_bytes * width * height > limits.most_pixels * kMostSampleBytes)
      return Error{ErrorCode::kTooLarge,
                   fmt::format("the TIFF has {} samples of {} bits in every pixel", samples_, bits_), "",
                   "save it as RGB without further channels"};
    if (Status s = ChooseLayout(); !s) return s;
    ReadProfile();
    return {};
  }

  Status Read(int count, std::uint8_t* rows) override {
    for (int i = 0; i < count; ++i) {
      const std::uint8_t* line = nullptr;
      if (Status s = NextLine(&line); !s) return s;
      if (whole_.empty())
        Convert(line, rows);
      else
        std::memcpy(rows, line, layout.row_bytes());
      rows += layout.row_bytes();
      ++y_;
    }
    return {};
  }

 private:
  Error Damaged(const std::string& what) const {
    return Error{ErrorCode::kDamaged,
                 memory_.message().empty() ? what : fmt::format("{}: {}", what, memory_.message()), "",
                 "copy it again from its source"};
  }

  // The first page that is not a preview (NewSubfileType bit 0).
  Status ChoosePage() {
    for (int page = 0; page < 16; ++page) {
      std::uint32_t kind = 0;
      TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SUBFILETYPE, &kind);
      if (!(kind & FILETYPE_REDUCEDIMAGE)) return {};
      if (!TIFFReadDirectory(tiff_.get())) break;
    }
    return Damaged("the TIFF holds no full-size picture");
  }

  Status ChooseLayout() {
    std::uint16_t compression = COMPRESSION_NONE;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_COMPRESSION, &compression);
    if (!TIFFIsCODECConfigured(compression))
      return Error{ErrorCode::kUnsupported, fmt::format("TIFF compression {} is not read", compression), "",
                   "save it with LZW, deflate or no compression"};
    if (compression == COMPRESSION_JPEG && photometric_ == PHOTOMETRIC_YCBCR &&
        planar_ == PLANARCONFIG_CONTIG) {
      TIFFSetField(tiff_.get(), TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
      photometric_ = PHOTOMETRIC_RGB;
    }
    const bool whole_numbers = format_ == SAMPLEFORMAT_UINT && (bits_ == 8 || bits_ == 16);
    const bool floats = format_ == SAMPLEFORMAT_IEEEFP && bits_ == 32;
    layout.depth = floats ? Depth::kFloat : bits_ == 16 ? Depth::k16 : Depth::k8;
    bool direct = whole_numbers || floats;
    switch (photometric_) {
      case PHOTOMETRIC_MINISBLACK:
      case PHOTOMETRIC_MINISWHITE:
        layout.channels = 1;
        break;
      case PHOTOMETRIC_RGB:
        layout.channels = 3;
        direct = direct && samples_ >= 3;
        break;
      case PHOTOMETRIC_SEPARATED:
        layout.channels = 4;
        direct = direct && samples_ >= 4 && !floats;
        break;
      case PHOTOMETRIC_PALETTE:
      case PHOTOMETRIC_YCBCR:
        layout.channels = 3;
        direct = false;
        break;
      default:
        return Error{ErrorCode::kUnsupported, fmt::format("TIFF colour kind {} is not read", photometric_),
                     "", "save it as RGB"};
    }
    if (!direct) return ReadWhole();
    tiled_ = TIFFIsTiled(tiff_.get()) != 0;
    return {};
  }

  // Palettes, bilevel, subsampled YCbCr: the library's own conversion to 8-bit RGB, in stored order.
  Status ReadWhole() {
    char reason[1024] = "";
    TIFFRGBAImage image;
    if (!TIFFRGBAImageOK(tiff_.get(), reason) || !TIFFRGBAImageBegin(&image, tiff_.get(), 1, reason))
      return Error{ErrorCode::kUnsupported, fmt::format("this kind of TIFF is not read: {}", reason), "",
                   "save it as RGB with 8 or 16 bits"};
    image.req_orientation = image.orientation;
    std::vector<std::uint32_t> pixels(std::size_t(image.width) * image.height);
    const int ok = TIFFRGBAImageGet(&image, pixels.data(), image.width, image.height);
    TIFFRGBAImageEnd(&image);
    if (!ok || !memory_.message().empty()) return Damaged("the TIFF data is damaged or ends early");
    layout.channels = 3;
    layout.depth = Depth::k8;
    whole_.resize(pixels.size() * 3);
    for (std::size_t i = 0; i < pixels.size(); ++i) {
      whole_[3 * i] = static_cast<std::uint8_t>(TIFFGetR(pixels[i]));
      whole_[3 * i + 1] = static_cast<std::uint8_t>(TIFFGetG(pixels[i]));
      whole_[3 * i + 2] = static_cast<std::uint8_t>(TIFFGetB(pixels[i]));
    }
    return {};
  }

  void ReadProfile() {
    std::uint32_t size = 0;
    void* data = nullptr;
    if (TIFFGetField(tiff_.get(), TIFFTAG_ICCPROFILE, &size, &data) && size > 0)
      icc.assign(static_cast<std::uint8_t*>(data), static_cast<std::uint8_t*>(data) + size);
  }

  std::size_t SampleBytes() const { return bits_ / 8; }

  // The next stored line: all samples of a pixel side by side.
  Status NextLine(const std::uint8_t** line) {
    if (!whole_.empty()) {
      *line = whole_.data() + std::size_t(y_) * layout.row_bytes();
      return {};
    }
    if (!tiled_ && planar_ == PLANARCONFIG_CONTIG) {
      if (band_.empty()) band_.resize(std::max<std::size_t>(TIFFScanlineSize(tiff_.get()), LineBytes()));
      if (TIFFReadScanline(tiff_.get(), band_.data(), static_cast<std::uint32_t>(y_), 0) != 1)
        return Damaged("the TIFF data is damaged or ends early");
      *line = band_.data();
      return {};
    }
    if (y_ >= band_first_ + band_rows_) {
      band_first_ = y_;
      if (Status s = tiled_ ? ReadTileBand() : ReadPlanarBand(); !s) return s;
    }
    *line = band_.data() + std::size_t(y_ - band_first_) * LineBytes();
    return {};
  }

  std::size_t LineBytes() const { return std::size_t(layout.width_px) * samples_ * SampleBytes(); }

  Status ReadPlanarBand() {
    std::uint32_t rows = 0;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_ROWSPERSTRIP, &rows);
    band_rows_ =
        static_cast<int>(std::min<std::uint32_t>(rows, static_cast<std::uint32_t>(layout.height_px - y_)));
    if (band_rows_ < 1) return Damaged("the TIFF strips have no rows");
    band_.resize(LineBytes() * static_cast<std::size_t>(band_rows_));
    const std::size_t plane_row = std::size_t(layout.width_px) * SampleBytes();
    piece_.resize(plane_row * static_cast<std::size_t>(band_rows_));
    for (std::uint16_t s = 0; s < samples_; ++s) {
      const auto strip = TIFFComputeStrip(tiff_.get(), static_cast<std::uint32_t>(y_), s);
      const auto got =
          TIFFReadEncodedStrip(tiff_.get(), strip, piece_.data(), static_cast<tmsize_t>(piece_.size()));
      if (got != static_cast<tmsize_t>(piece_.size()))
        return Damaged("the TIFF data is damaged or ends early");
      for (int r = 0; r < band_rows_; ++r)
        Spread(piece_.data() + plane_row * static_cast<std::size_t>(r), layout.width_px, r, 0, s, 1);
    }
    return {};
  }

  Status ReadTileBand() {
    std::uint32_t tile_width = 0, tile_height = 0;
    TIFFGetField(tiff_.get(), TIFFTAG_TILEWIDTH, &tile_width);
    TIFFGetField(tiff_.get(), TIFFTAG_TILELENGTH, &tile_height);
    const int in_tile = planar_ == PLANARCONFIG_CONTIG ? samples_ : 1;
    const int planes = planar_ == PLANARCONFIG_CONTIG ? 1 : samples_;
    const std::size_t row = std::size_t(tile_width) * static_cast<std::size_t>(in_tile) * SampleBytes();
    const tmsize_t tile_size = TIFFTileSize(tiff_.get());
    // A picture is padded to whole tiles; a tile far larger than its picture is no honest file.
    if (tile_width == 0 || tile_height == 0 || tile_size <= 0 ||
        row * tile_height > static_cast<std::size_t>(tile_size) ||
        tile_width > static_cast<std::uint32_t>(layout.width_px) + 65536u ||
        std::uint64_t(tile_width) * tile_height >
            16ull * 1024 * 1024 + 4ull * std::uint64_t(layout.width_px) * std::uint64_t(layout.height_px))
      return Damaged("the TIFF tiles have an impossible size");
    band_rows_ = static_cast<int>(
        std::min<std::uint32_t>(tile_height, static_cast<std::uint32_t>(layout.height_px - y_)));
    band_.resize(LineBytes() * static_cast<std::size_t>(band_rows_));
    piece_.resize(static_cast<std::size_t>(tile_size));
    for (int plane = 0; plane < planes; ++plane)
      for (std::uint32_t x = 0; x < static_cast<std::uint32_t>(layout.width_px); x += tile_width) {
        const auto got = TIFFReadTile(tiff_.get(), piece_.data(), x, static_cast<std::uint32_t>(y_), 0,
                                      static_cast<std::uint16_t>(plane));
        if (got < static_cast<tmsize_t>(row * static_cast<std::size_t>(band_rows_)))
          return Damaged("the TIFF data is damaged or ends early");
        const int width = static_cast<int>(
            std::min<std::uint32_t>(tile_width, static_cast<std::uint32_t>(layout.width_px) - x));
        for (int r = 0; r < band_rows_; ++r)
          Spread(piece_.data() + row * static_cast<std::size_t>(r), width, r, static_cast<int>(x), plane,
                 in_tile);
      }
    return {};
  }

  // Copies `width` pixels of `count` samples to row `r` of the band, from column `x` and sample `first` on.
  void Spread(const std::uint8_t* from, int width, int r, int x, int first, int count) {
    const std::size_t bytes = SampleBytes();
    std::uint8_t* to = band_.data() + LineBytes() * static_cast<std::size_t>(r) +
                       (std::size_t(x) * samples_ + static_cast<std::size_t>(first)) * bytes;
    const std::size_t part = static_cast<std::size_t>(count) * bytes;
    if (count == samples_) {
      std::memcpy(to, from, part * static_cast<std::size_t>(width));
      return;
    }
    for (int i = 0; i < width; ++i, from += part, to += samples_ * bytes) std::memcpy(to, from, part);
  }

  // Leaves further channels out and turns a negative scale round.
  void Convert(const std::uint8_t* line, std::uint8_t* row) const {
    const std::size_t pixel = samples_ * SampleBytes(),
                      kept = static_cast<std::size_t>(layout.channels) * SampleBytes();
    if (pixel == kept) {
      std::memcpy(row, line, layout.row_bytes());
    } else {
      for (int x = 0; x < layout.width_px; ++x)
        std::memcpy(row + kept * std::size_t(x), line + pixel * std::size_t(x), kept);
    }
    if (photometric_ != PHOTOMETRIC_MINISWHITE) return;
    if (layout.depth == Depth::kFloat) {
      for (int x = 0; x < layout.width_px; ++x) {
        float v;
        std::memcpy(&v, row + 4 * std::size_t(x), 4);
        v = 1.0f - v;
        std::memcpy(row + 4 * std::size_t(x), &v, 4);
      }
    } else {
      for (std::size_t i = 0; i < layout.row_bytes(); ++i) row[i] = static_cast<std::uint8_t>(255 - row[i]);
    }
  }

  TiffMemory memory_;
  TiffPtr tiff_;
  std::uint16_t bits_ = 1, samples_ = 1, format_ = SAMPLEFORMAT_UINT, planar_ = PLANARCONFIG_CONTIG,
                photometric_ = PHOTOMETRIC_RGB;
  bool tiled_ = false;
  int y_ = 0, band_first_ = 0, band_rows_ = 0;
  std::vector<std::uint8_t> band_, piece_, whole_;
};

template <class T>
Result<Bytes> Encode(const image::Raster<T, 3>& pixels, double dpi, std::span<const std::uint8_t> icc,
                     const Cancel& cancel) {
  if (pixels.empty()) return Error{ErrorCode::kInvalidArgument, "there are no pixels to write", "", ""};
  TiffMemory memory;
  {
    TiffPtr tiff = memory.Open(1ull << 40);
    if (!tiff) return Error{ErrorCode::kInternal, "the TIFF could not be begun: " + memory.message(), "", ""};
    TIFF* t = tiff.get();
    TIFFSetField(t, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(pixels.width()));
    TIFFSetField(t, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(pixels.height()));
    TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, static_cast<int>(8 * sizeof(T)));
    TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, 3);
    TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(t, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    TIFFSetField(t, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
    TIFFSetField(t, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
    TIFFSetField(t, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    // Level 1: 16-bit photographs are noise in their low bits, more effort gains a few per cent for three
    // times the time.
    TIFFSetField(t, TIFFTAG_ZIPQUALITY, 1);
    const std::size_t row_bytes = std::size_t(pixels.width()) * 3 * sizeof(T);
    const auto rows =
        std::clamp<std::size_t>((256 * 1024) / row_bytes, 1, static_cast<std::size_t>(pixels.height()));
    TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(rows));
    TIFFSetField(t, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    TIFFSetField(t, TIFFTAG_XRESOLUTION, dpi);
    TIFFSetField(t, TIFFTAG_YRESOLUTION, dpi);
    if (!icc.empty()) TIFFSetField(t, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(icc.size()), icc.data());
    std::vector<T> strip;  // the library predicts in place, so it gets a copy
    for (int y = 0; y < pixels.height(); y += static_cast<int>(rows)) {
      if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};
      const int count = std::min(static_cast<int>(rows), pixels.height() - y);
      strip.assign(pixels.row(y), pixels.row(y) + std::size_t(count) * std::size_t(pixels.width()) * 3);
      if (TIFFWriteEncodedStrip(t, static_cast<std::uint32_t>(y) / static_cast<std::uint32_t>(rows),
                                strip.data(), static_cast<tmsize_t>(strip.size() * sizeof(T))) < 0)
        return Error{ErrorCode::kInternal, "the TIFF could not be encoded: " + memory.message(), "", ""};
    }
    if (!TIFFWriteDirectory(t))
      return Error{ErrorCode::kInternal, "the TIFF could not be encoded: " + memory.message(), "", ""};
  }
  return memory.Take();
}

}  // namespace

Result<RowReaderPtr> OpenTiff(std::span<const std::uint8_t> bytes, const Limits& limits) {
  auto reader = std::make_unique<TiffReader>(bytes);
  if (Status s = reader->Open(limits); !s) return s.error();
  return RowReaderPtr(std::move(reader));
}

Result<RowReaderPtr> OpenTiff(const std::filesystem::path& path, const Limits& limits) {
  auto reader = std::make_unique<TiffReader>(std::span<const std::uint8_t>());
  if (Status s = reader->Open(limits, path); !s) return s.error();
  return RowReaderPtr(std::move(reader));
}

Result<Bytes> EncodeTiff(const image::RgbU8& pixels, double dpi, std::span<const std::uint8_t> icc,
                         const Cancel& cancel) {
  return Encode(pixels, dpi, icc, cancel);
}
Result<Bytes> EncodeTiff(const image::RgbU16& pixels, double dpi, std::span<const std::uint8_t> icc,
                         const Cancel& cancel) {
  return Encode(pixels, dpi, icc, cancel);
}

}  // namespace samelight::codec
