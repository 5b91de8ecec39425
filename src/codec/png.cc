// PNG by libpng. Like libjpeg it reports errors by a jump.
#include <png.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <new>

#include <fmt/format.h>

#include "codec/encode.h"
#include "codec/rows.h"

namespace samelight::codec {
namespace {

constexpr png_alloc_size_t kMostChunkBytes = 16u << 20;  // text and profile chunks, unpacked

struct Input {
  std::span<const std::uint8_t> bytes;
  std::size_t position = 0;
};

struct Message {
  char text[160] = "";
};

[[noreturn]] void OnError(png_structp png, png_const_charp text) {
  auto* message = static_cast<Message*>(png_get_error_ptr(png));
  std::snprintf(message->text, sizeof message->text, "%s", text);
  png_longjmp(png, 1);
}
void OnWarning(png_structp, png_const_charp) {}

void OnRead(png_structp png, png_bytep to, png_size_t size) {
  auto* input = static_cast<Input*>(png_get_io_ptr(png));
  if (size > input->bytes.size() - input->position) png_error(png, "the file ends early");
  std::memcpy(to, input->bytes.data() + input->position, size);
  input->position += size;
}

class PngReader final : public RowReader {
 public:
  explicit PngReader(std::span<const std::uint8_t> bytes) { input_.bytes = bytes; }
  ~PngReader() override { png_destroy_read_struct(&png_, &info_, nullptr); }
  PngReader(const PngReader&) = delete;
  PngReader& operator=(const PngReader&) = delete;

  Status Open(const Limits& limits) {
    if (!ReadHeader()) return Damaged();
    full_width_px = static_cast<int>(png_get_image_width(png_, info_));
    full_height_px = static_cast<int>(png_get_image_height(png_, info_));
    if (Status s = CheckSize(std::uint64_t(full_width_px), std::uint64_t(full_height_px), limits); !s)
      return s;
    if (!SetTransforms()) return Damaged();
    layout.width_px = full_width_px;
    layout.height_px = full_height_px;
    layout.channels = png_get_channels(png_, info_);
    layout.depth = png_get_bit_depth(png_, info_) == 16 ? Depth::k16 : Depth::k8;
    // Rows are written straight to where they belong: what the library takes for a row's length must be ours.
    return png_get_rowbytes(png_, info_) == layout.row_bytes() ? Status() : Status(Damaged());
  }

  Status Read(int count, std::uint8_t* rows) override {
    if (passes_ > 1 && whole_.empty()) {
      whole_.resize(layout.row_bytes() * static_cast<std::size_t>(layout.height_px));
      for (int pass = 0; pass < passes_; ++pass)
        if (!ReadRows(layout.height_px, whole_.data())) return Damaged();
    }
    const std::size_t size = layout.row_bytes() * static_cast<std::size_t>(count);
    if (passes_ > 1) {
      std::memcpy(rows, whole_.data() + layout.row_bytes() * static_cast<std::size_t>(y_), size);
    } else if (!ReadRows(count, rows)) {
      return Damaged();
    }
    y_ += count;
    if (y_ == layout.height_px && !ReadEnd()) return Damaged();
    return {};
  }

 private:
  Error Damaged() const {
    return Error{ErrorCode::kDamaged, fmt::format("the PNG data is damaged or ends early: {}", message_.text),
                 "", "copy it again from its source"};
  }

  bool ReadHeader() {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &message_, OnError, OnWarning);
    if (png_ == nullptr) return false;
    info_ = png_create_info_struct(png_);
    if (info_ == nullptr) return false;
    if (setjmp(png_jmpbuf(png_))) return false;
    // Our own limit on the product is checked after the header; these bound a side and any unpacked chunk.
    png_set_user_limits(png_, 1'000'000, 1'000'000);
    png_set_chunk_malloc_max(png_, kMostChunkBytes);
    // Texts and suggested palettes are read elsewhere or not at all; here a small file could hold a thousand
    // of them, each of the size above once it is unpacked.
    static constexpr png_byte kSkipped[] = "tEXt\0zTXt\0iTXt\0sPLT\0hIST\0eXIf";
    png_set_keep_unknown_chunks(png_, PNG_HANDLE_CHUNK_NEVER, kSkipped, 6);
    png_set_option(png_, PNG_SKIP_sRGB_CHECK_PROFILE, PNG_OPTION_ON);
    png_set_read_fn(png_, &input_, OnRead);
    png_read_info(png_, info_);
    png_charp name = nullptr;
    int compression = 0;
    png_bytep profile = nullptr;
    png_uint_32 size = 0;
    if (png_get_iCCP(png_, info_, &name, &compression, &profile, &size) != 0)
      icc.assign(profile, profile + size);
    int intent = 0;
    srgb_named = png_get_sRGB(png_, info_, &intent) != 0;
    return true;
  }

  bool SetTransforms() {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_set_expand(png_);  // palette to RGB, low depths to 8 bits, tRNS to alpha
    png_set_strip_alpha(png_);
    png_set_swap(png_);  // 16-bit samples are big-endian in the file
    passes_ = png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    return true;
  }

  bool ReadRows(int count, std::uint8_t* rows) {
    if (setjmp(png_jmpbuf(png_))) return false;
    for (int i = 0; i < count; ++i)
      png_read_row(png_, rows + layout.row_bytes() * static_cast<std::size_t>(i), nullptr);
    return true;
  }

  bool ReadEnd() {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_read_end(png_, nullptr);
    return true;
  }

  Input input_;
  Message message_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  int passes_ = 1, y_ = 0;
  std::vector<std::uint8_t> whole_;
};

struct Encoder {
  Message message;
  Bytes out;
  png_structp png = nullptr;
  png_infop info = nullptr;
  ~Encoder() { png_destroy_write_struct(&png, &info); }

  // `rows` are 8-bit, or 16-bit in the machine's order (little-endian).
  bool Run(const std::uint8_t* rows, int width, int height, int bits, double dpi,
           std::span<const std::uint8_t> icc, const Cancel& cancel) {
    png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &message, OnError, OnWarning);
    if (png == nullptr) return false;
    info = png_create_info_struct(png);
    if (info == nullptr) return false;
    if (setjmp(png_jmpbuf(png))) return false;
    png_set_write_fn(
        png, &out,
        [](png_structp p, png_bytep data, png_size_t size) {
          auto* sink = static_cast<Bytes*>(png_get_io_ptr(p));
          bool kept = true;
          try {
            sink->insert(sink->end(), data, data + size);
          } catch (const std::bad_alloc&) {  // must not pass through the library, which is C
            kept = false;
          }
          if (!kept) png_error(p, "not enough memory");
        },
        [](png_structp) {});
    png_set_IHDR(png, info, static_cast<png_uint_32>(width), static_cast<png_uint_32>(height), bits,
                 PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    png_set_compression_level(png, 4);
    png_set_filter(png, 0, PNG_FILTER_SUB | PNG_FILTER_UP | PNG_FILTER_AVG | PNG_FILTER_PAETH);
    const auto per_metre = static_cast<png_uint_32>(dpi / 0.0254 + 0.5);
    png_set_pHYs(png, info, per_metre, per_metre, PNG_RESOLUTION_METER);
    if (!icc.empty())
      png_set_iCCP(png, info, "profile", PNG_COMPRESSION_TYPE_BASE, icc.data(),
                   static_cast<png_uint_32>(icc.size()));
    png_write_info(png, info);
    if (bits == 16) png_set_swap(png);
    const std::size_t stride = std::size_t(width) * 3 * static_cast<std::size_t>(bits / 8);
    for (int y = 0; y < height; ++y) {
      if (cancel.requested()) return false;
      png_write_row(png, rows + stride * std::size_t(y));
    }
    png_write_end(png, info);
    return true;
  }
};

template <class T>
Result<Bytes> Encode(const image::Raster<T, 3>& pixels, double dpi, std::span<const std::uint8_t> icc,
                     const Cancel& cancel) {
  if (pixels.empty()) return Error{ErrorCode::kInvalidArgument, "there are no pixels to write", "", ""};
  Encoder encoder;
  if (!encoder.Run(reinterpret_cast<const std::uint8_t*>(pixels.row(0)), pixels.width(), pixels.height(),
                   static_cast<int>(8 * sizeof(T)), dpi, icc, cancel)) {
    if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};
    return Error{ErrorCode::kInternal, fmt::format("the PNG could not be encoded: {}", encoder.message.text),
                 "", ""};
  }
  return std::move(encoder.out);
}

}  // namespace

Result<RowReaderPtr> OpenPng(std::span<const std::uint8_t> bytes, const Limits& limits) {
  auto reader = std::make_unique<PngReader>(bytes);
  if (Status s = reader->Open(limits); !s) return s.error();
  return RowReaderPtr(std::move(reader));
}

Result<Bytes> EncodePng(const image::RgbU8& pixels, double dpi, std::span<const std::uint8_t> icc,
                        const Cancel& cancel) {
  return Encode(pixels, dpi, icc, cancel);
}
Result<Bytes> EncodePng(const image::RgbU16& pixels, double dpi, std::span<const std::uint8_t> icc,
                        const Cancel& cancel) {
  return Encode(pixels, dpi, icc, cancel);
}

}  // namespace samelight::codec
