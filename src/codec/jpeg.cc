// JPEG by libjpeg-turbo. The library reports errors by a jump: every call into it sits between a setjmp and
// plain data.
#include <cstdio>  // jpeglib.h needs FILE

#include <jpeglib.h>

#include <jerror.h>

#include <algorithm>
#include <csetjmp>
#include <cstdlib>
#include <cstring>
#include <new>

#include <fmt/format.h>

#include "codec/encode.h"
#include "codec/rows.h"

namespace samelight::codec {
namespace {

// A progressive file may repeat scans over all its blocks without end; real files have about ten.
constexpr int kMostScans = 100;

struct Trouble {
  jpeg_error_mgr base;  // first: the library only knows this part
  std::jmp_buf jump;
  char message[JMSG_LENGTH_MAX];
  bool damaged;
};

[[noreturn]] void OnError(j_common_ptr info) {
  auto* trouble = reinterpret_cast<Trouble*>(info->err);
  trouble->base.format_message(info, trouble->message);
  std::longjmp(trouble->jump, 1);
}

// Warnings (level -1) are counted as damage unless they leave every pixel intact.
void OnMessage(j_common_ptr info, int level) {
  auto* trouble = reinterpret_cast<Trouble*>(info->err);
  if (level >= 0) return;
  switch (trouble->base.msg_code) {
    case JWRN_ADOBE_XFORM:
    case JWRN_BOGUS_PROGRESSION:
    case JWRN_EXTRANEOUS_DATA:
    case JWRN_JFIF_MAJOR:
    case JWRN_TOO_MUCH_DATA:
      return;
    default:
      if (!trouble->damaged) trouble->base.format_message(info, trouble->message);
      trouble->damaged = true;
  }
}

void Prepare(Trouble& trouble) {
  std::memset(&trouble, 0, sizeof trouble);
  jpeg_std_error(&trouble.base);
  trouble.base.error_exit = OnError;
  trouble.base.emit_message = OnMessage;
  trouble.base.output_message = [](j_common_ptr) {};
}

Error Damaged(const Trouble& trouble) {
  return Error{ErrorCode::kDamaged,
               fmt::format("the JPEG data is damaged or ends early: {}", trouble.message), "",
               "copy it again from its source"};
}

struct Monitor {
  jpeg_progress_mgr base;  // first: the library only knows this part
  const Cancel* cancel;
};

// Whole picture files only: a JPEG with less than a quarter of its rows has been seen as a thumbnail's
// remains.
class JpegReader final : public RowReader {
 public:
  explicit JpegReader(const Cancel& cancel) : cancel_(cancel) {
    Prepare(trouble_);
    info_.err = &trouble_.base;
  }
  ~JpegReader() override {
    if (created_) jpeg_destroy_decompress(&info_);
  }
  JpegReader(const JpegReader&) = delete;
  JpegReader& operator=(const JpegReader&) = delete;

  Status Open(std::span<const std::uint8_t> bytes, int at_least_long_side_px, const Limits& limits) {
    if (!ReadHeader(bytes)) return Damaged(trouble_);
    full_width_px = static_cast<int>(info_.image_width);
    full_height_px = static_cast<int>(info_.image_height);
    if (Status s = CheckSize(info_.image_width, info_.image_height, limits); !s) return s;
    if (info_.num_components != 1 && info_.num_components != 3 && info_.num_components != 4)
      return Error{ErrorCode::kUnsupported,
                   fmt::format("a JPEG with {} components is not read", info_.num_components), "",
                   "save it as RGB"};
    int scale = 1;
    if (at_least_long_side_px > 0)
      while (scale < 8 &&
             (std::max(full_width_px, full_height_px) + scale * 2 - 1) / (scale * 2) >= at_least_long_side_px)
        scale *= 2;
    // Coefficients of a progressive file are held whole: two bytes each, padded to blocks.
    const std::uint64_t padded = std::uint64_t(full_width_px + 32) * std::uint64_t(full_height_px + 32);
    info_.mem->max_memory_to_use =
        static_cast<long>(padded * 2 * info_.num_components * 5 / 4 + (64ull << 20));
    scale_ = scale;
    layout.channels = info_.num_components;
    if (!CalcSize()) return Damaged(trouble_);
    layout.width_px = static_cast<int>(info_.output_width);
    layout.height_px = static_cast<int>(info_.output_height);
    return {};
  }

  Status Read(int count, std::uint8_t* rows) override {
    if (!started_) {
      if (!Start()) return Damaged(trouble_);
      started_ = true;
    }
    if (!ReadRows(count, rows) || trouble_.damaged) return Damaged(trouble_);
    if (layout.channels == 4 && info_.saw_Adobe_marker) {
      // Files with that marker store white as full (Adobe technical note 5116).
      const std::size_t size = layout.row_bytes() * static_cast<std::size_t>(count);
      for (std::size_t i = 0; i < size; ++i) rows[i] = static_cast<std::uint8_t>(255 - rows[i]);
    }
    return {};
  }

 private:
  bool ReadHeader(std::span<const std::uint8_t> bytes) {
    JOCTET* profile = nullptr;
    unsigned int profile_bytes = 0;
    if (setjmp(trouble_.jump)) return false;
    jpeg_create_decompress(&info_);
    created_ = true;
    progress_.base.progress_monitor = OnProgress;
    progress_.cancel = &cancel_;
    info_.progress = &progress_.base;
    jpeg_mem_src(&info_, bytes.data(), bytes.size());
    jpeg_save_markers(&info_, JPEG_APP0 + 2, 0xffff);
    jpeg_read_header(&info_, TRUE);
    if (jpeg_read_icc_profile(&info_, &profile, &profile_bytes)) {
      icc.assign(profile, profile + profile_bytes);
      std::free(profile);
    }
    return true;
  }

  bool CalcSize() {
    if (setjmp(trouble_.jump)) return false;
    info_.scale_num = 1;
    info_.scale_denom = static_cast<unsigned>(scale_);
    info_.dct_method = JDCT_ISLOW;
    info_.do_fancy_upsampling = TRUE;
    info_.out_color_space = layout.channels == 1 ? JCS_GRAYSCALE : layout.channels == 3 ? JCS_RGB : JCS_CMYK;
    jpeg_calc_output_dimensions(&info_);
    return true;
  }

  bool Start() {
    if (setjmp(trouble_.jump)) return false;
    jpeg_start_decompress(&info_);
    return true;
  }

  bool ReadRows(int count, std::uint8_t* rows) {
    if (setjmp(trouble_.jump)) return false;
    const std::size_t stride = layout.row_bytes();
    // volatile: changed between the setjmp and a jump back.
    volatile int done = 0;
    while (done < count) {
      JSAMPROW lines[16];
      const int want = std::min(count - done, 16);
      for (int i = 0; i < want; ++i) lines[i] = rows + stride * static_cast<std::size_t>(done + i);
      const int got = static_cast<int>(jpeg_read_scanlines(&info_, lines, static_cast<JDIMENSION>(want)));
      if (got == 0) return false;
      done = done + got;
    }
    return true;
  }

  static void OnProgress(j_common_ptr info) {
    const bool stop = reinterpret_cast<Monitor*>(info->progress)->cancel->requested();
    if (!stop && reinterpret_cast<j_decompress_ptr>(info)->input_scan_number <= kMostScans) return;
    auto* trouble = reinterpret_cast<Trouble*>(info->err);
    std::snprintf(trouble->message, sizeof trouble->message, stop ? "stopped" : "more than %d scans",
                  kMostScans);
    std::longjmp(trouble->jump, 1);
  }

  jpeg_decompress_struct info_{};
  Monitor progress_{};
  Cancel cancel_;
  Trouble trouble_;
  bool created_ = false, started_ = false;
  int scale_ = 1;
};

// Where compressed bytes go. The library's own one for memory loses its buffer when the work is given up.
struct Sink {
  jpeg_destination_mgr base{};  // first: the library only knows this part
  std::vector<std::uint8_t> bytes;

  static Sink& Of(j_compress_ptr info) { return *reinterpret_cast<Sink*>(info->dest); }
  bool Grow(std::size_t size) {
    const std::size_t before = bytes.size();
    try {
      bytes.resize(size);
    } catch (const std::bad_alloc&) {
      return false;
    }
    base.next_output_byte = bytes.data() + before;
    base.free_in_buffer = size - before;
    return true;
  }
  static void Begin(j_compress_ptr info) {
    if (!Of(info).Grow(1u << 20)) ERREXIT1(info, JERR_OUT_OF_MEMORY, 0);
  }
  static boolean More(j_compress_ptr info) {
    const std::size_t size = Of(info).bytes.size();
    if (!Of(info).Grow(size + size / 2)) ERREXIT1(info, JERR_OUT_OF_MEMORY, 1);
    return TRUE;
  }
  static void End(j_compress_ptr info) {
    Of(info).bytes.resize(Of(info).bytes.size() - Of(info).base.free_in_buffer);
  }
};

struct Encoder {
  jpeg_compress_struct info{};
  Trouble trouble;
  Monitor monitor{};
  Sink sink;
  Encoder() {
    Prepare(trouble);
    info.err = &trouble.base;
  }
  ~Encoder() { jpeg_destroy_compress(&info); }
  Encoder(const Encoder&) = delete;
  Encoder& operator=(const Encoder&) = delete;

  // The codes are chosen and written in a pass of its own behind the last row.
  static void OnProgress(j_common_ptr info) {
    if (reinterpret_cast<Monitor*>(info->progress)->cancel->requested())
      std::longjmp(reinterpret_cast<Trouble*>(info->err)->jump, 1);
  }

  bool Run(const image::RgbU8& pixels, int quality, Subsampling subsampling, double dpi,
           std::span<const std::uint8_t> icc, const Cancel& cancel) {
    if (setjmp(trouble.jump)) return false;
    jpeg_create_compress(&info);
    monitor.base.progress_monitor = OnProgress;
    monitor.cancel = &cancel;
    info.progress = &monitor.base;
    sink.base.init_destination = Sink::Begin;
    sink.base.empty_output_buffer = Sink::More;
    sink.base.term_destination = Sink::End;
    info.dest = &sink.base;
    info.image_width = static_cast<JDIMENSION>(pixels.width());
    info.image_height = static_cast<JDIMENSION>(pixels.height());
    info.input_components = 3;
    info.in_color_space = JCS_RGB;
    jpeg_set_defaults(&info);
    jpeg_set_quality(&info, quality, TRUE);
    info.dct_method = JDCT_ISLOW;
    info.optimize_coding = TRUE;
    info.comp_info[0].h_samp_factor = subsampling == Subsampling::k444 ? 1 : 2;
    info.comp_info[0].v_samp_factor = subsampling == Subsampling::k420 ? 2 : 1;
    info.density_unit = 1;
    info.X_density = info.Y_density = static_cast<UINT16>(std::clamp(dpi + 0.5, 1.0, 65535.0));
    jpeg_start_compress(&info, TRUE);
    if (!icc.empty()) jpeg_write_icc_profile(&info, icc.data(), static_cast<unsigned>(icc.size()));
    while (info.next_scanline < info.image_height) {
      if (cancel.requested()) return false;
      auto* row = const_cast<JSAMPROW>(pixels.row(static_cast<int>(info.next_scanline)));
      jpeg_write_scanlines(&info, &row, 1);
    }
    jpeg_finish_compress(&info);
    return true;
  }
};

}  // namespace

Result<RowReaderPtr> OpenJpeg(std::span<const std::uint8_t> bytes, int at_least_long_side_px,
                              const Limits& limits, const Cancel& cancel) {
  auto reader = std::make_unique<JpegReader>(cancel);
  if (Status s = reader->Open(bytes, at_least_long_side_px, limits); !s) return s.error();
  return RowReaderPtr(std::move(reader));
}

Result<std::vector<std::uint8_t>> EncodeJpegWith(const image::RgbU8& pixels, int quality,
                                                 Subsampling subsampling, double dpi,
                                                 std::span<const std::uint8_t> icc, const Cancel& cancel) {
  if (pixels.width() < 1 || pixels.height() < 1 || pixels.width() > JPEG_MAX_DIMENSION ||
      pixels.height() > JPEG_MAX_DIMENSION)
    return Error{ErrorCode::kInvalidArgument,
                 fmt::format("a JPEG can not hold {} x {} pixels", pixels.width(), pixels.height()), "",
                 "choose a smaller size or another format"};
  if (quality < 1 || quality > 100)
    return Error{ErrorCode::kInvalidArgument, fmt::format("JPEG quality {} is outside 1..100", quality), "",
                 ""};
  Encoder encoder;
  if (!encoder.Run(pixels, quality, subsampling, dpi, icc, cancel)) {
    if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};
    return Error{ErrorCode::kInternal,
                 fmt::format("the JPEG could not be encoded: {}", encoder.trouble.message), "", ""};
  }
  return std::move(encoder.sink.bytes);
}

}  // namespace samelight::codec
