#include "codec/raw.h"

#include <libraw/libraw.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <memory>
#include <optional>
#include <vector>

#include <fmt/format.h>

#include "codec/camera_matrix.h"
#include "codec/orient.h"
#include "codec/rows.h"
#include "codec/tiff_walk.h"
#include "color/space.h"

// OpenMP API 4.5, 3.2.1 and 3.2.3: LibRaw's loops would otherwise start a thread per core in every one of our
// workers. Declared here because omp.h comes with one compiler only.
extern "C" {
void omp_set_num_threads(int);
int omp_get_max_threads(void);
}

namespace samelight::codec {
namespace {

// Balanced values are kept in 16 bits while colours are interpolated. Black sits at kFoot, so that noise
// below it survives and dark tones are not biased upward.
constexpr int kFoot = 1024;
constexpr double kRange = 65535 - kFoot;

class OneThread {
 public:
  OneThread() : before_(omp_get_max_threads()) { omp_set_num_threads(1); }
  ~OneThread() { omp_set_num_threads(before_); }
  OneThread(const OneThread&) = delete;
  OneThread& operator=(const OneThread&) = delete;

 private:
  int before_;
};

Error FromLibRaw(int code) {
  switch (code) {
    case LIBRAW_CANCELLED_BY_CALLBACK:
      return Error{ErrorCode::kCancelled, "stopped", "", ""};
    case LIBRAW_FILE_UNSUPPORTED:
      return Error{ErrorCode::kUnsupported, "this kind of raw file is not read", "", "convert it to DNG"};
    case LIBRAW_UNSUFFICIENT_MEMORY:
    case LIBRAW_TOO_BIG:
    case LIBRAW_MEMPOOL_OVERFLOW:
      return Error{ErrorCode::kTooLarge, "the raw file asks for more memory than the limit", "",
                   "leave it out"};
    default:
      return Error{ErrorCode::kDamaged,
                   fmt::format("the raw data is damaged or ends early: {}", libraw_strerror(code)), "",
                   "copy it again from its source"};
  }
}

// LibRaw reads what is behind the end of a file as if it were zeros, a lost colour matrix included. A DNG
// says where all of its parts lie; other raw formats keep to TIFF less strictly and are not judged.
bool WholeDng(std::span<const std::uint8_t> bytes) {
  const TiffParts tiff = WalkTiff([&](std::uint64_t offset, std::span<std::uint8_t> out) {
    if (offset > bytes.size() || out.size() > bytes.size() - offset) return false;
    std::copy_n(bytes.begin() + static_cast<std::ptrdiff_t>(offset), out.size(), out.begin());
    return true;
  });
  return !tiff.dng || std::all_of(tiff.parts.begin(), tiff.parts.end(),
                                  [&](const TiffPart& part) { return Within(part, bytes.size()); });
}

// LibRaw keeps the names of bodies in 64 characters, reads as many whatever the file says of their length,
// and appends to them unchecked; 0.20 ends the process there. What it asks for 64 of gets 40: no body's name
// is as long. A fuzzer found it (tests/fuzz/found/raw).
template <class Stream>
class ShortNames final : public Stream {
 public:
  using Stream::Stream;
  char* gets(char* text, int size) override { return Stream::gets(text, size == 64 ? 41 : size); }
};

// One LibRaw object with quiet callbacks and our options.
class Session {
 public:
  Session(const Limits& limits, const Cancel& cancel)
      : raw_(std::make_unique<LibRaw>(LIBRAW_OPIONS_NO_MEMERR_CALLBACK | LIBRAW_OPIONS_NO_DATAERR_CALLBACK)),
        cancel_(cancel) {
    raw_->set_dataerror_handler(
        [](void* self, const char*, int) { static_cast<Session*>(self)->damaged_ = true; }, this);
    raw_->set_progress_handler([](void* self, LibRaw_progress, int,
                                  int) { return static_cast<Session*>(self)->cancel_.requested() ? 1 : 0; },
                               this);
    auto& p = raw_->imgdata.params;
    p.output_color = 0;
    p.output_bps = 16;
    p.gamm[0] = p.gamm[1] = 1;
    p.no_auto_bright = 1;
    p.adjust_maximum_thr = 0;
    p.use_camera_wb = 0;
    p.use_auto_wb = 0;
    p.user_qual = 3;
    p.use_rawspeed = 0;
    p.use_dngsdk = 0;
    p.max_raw_memory_mb = static_cast<unsigned>(limits.most_pixels * 8 >> 20) + 64;
  }
  // `bytes` must outlive this.
  int Open(std::span<const std::uint8_t> bytes) {
    return Open(std::make_unique<ShortNames<LibRaw_buffer_datastream>>(
        const_cast<std::uint8_t*>(bytes.data()), bytes.size()));
  }
  int Open(const std::filesystem::path& path) {
    return Open(std::make_unique<ShortNames<LibRaw_bigfile_datastream>>(path.c_str()));
  }
  LibRaw& raw() { return *raw_; }
  libraw_data_t& data() { return raw_->imgdata; }
  bool damaged() const { return damaged_; }

 private:
  int Open(std::unique_ptr<LibRaw_abstract_datastream> stream) {
    stream_ = std::move(stream);
    return stream_->valid() ? raw_->open_datastream(stream_.get()) : LIBRAW_IO_ERROR;
  }

  std::unique_ptr<LibRaw_abstract_datastream> stream_;  // before what reads from it
  std::unique_ptr<LibRaw> raw_;
  Cancel cancel_;
  bool damaged_ = false;
};

// EXIF orientation of LibRaw's flip (bit 0 mirrors columns, bit 1 rows, bit 2 exchanges sides).
int Orientation(int flip) {
  static constexpr int kOf[8] = {1, 2, 4, 3, 5, 8, 6, 7};
  return kOf[flip & 7];
}

// What a DNG says of the camera under one or two lights, or what LibRaw knows of it under D65.
std::vector<CameraCalibration> CalibrationsOf(const libraw_colordata_t& c) {
  std::vector<CameraCalibration> all;
  for (const auto& dng : c.dng_color) {
    // The flags of parsed fields stay empty in LibRaw 0.20: an absent matrix is one of zeros.
    if (dng.colormatrix[1][1] == 0) continue;
    const bool single =
        dng.calibration[0][0] != 0 && dng.calibration[1][1] != 0 && dng.calibration[2][2] != 0;
    CameraCalibration out{dng.illuminant, {}};
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) {
        double v = dng.colormatrix[i][j];
        if (single) {
          v = 0;
          for (int k = 0; k < 3; ++k) v += double(dng.calibration[i][k]) * dng.colormatrix[k][j];
        }
        const double balance = c.dng_levels.analogbalance[i];
        out.camera_from_xyz[i][j] = balance > 0 ? v * balance : v;
      }
    all.push_back(out);
  }
  if (!all.empty()) return all;
  CameraCalibration known;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) known.camera_from_xyz[i][j] = c.cam_xyz[i][j];
  return {known};
}

record::RawColour ColourOf(const libraw_data_t& data, bool& matrix_known) {
  const auto& c = data.color;
  record::RawColour colour;
  std::optional<Vec3> as_shot;
  const double r = c.cam_mul[0], g = c.cam_mul[1], b = c.cam_mul[2];
  const auto sane = [](double v) { return std::isfinite(v) && v > 0.02 && v < 50; };
  if (g > 0 && sane(r / g) && sane(b / g)) as_shot = {r / g, 1, b / g};
  matrix_known = data.idata.colors == 3 && ColourFrom(CalibrationsOf(c), as_shot, colour);
  if (!matrix_known) {
    colour.rec2020_from_camera = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
    if (data.idata.colors == 1) colour.rec2020_from_camera = kIdentity3;
    colour.rec2020_from_daylight = colour.rec2020_from_camera;
    for (int i = 0; i < 3; i += 2)
      if (c.pre_mul[i] > 0 && c.pre_mul[1] > 0) colour.daylight[i] = double(c.pre_mul[i]) / c.pre_mul[1];
    colour.as_shot = as_shot.value_or(colour.daylight);
  }
  for (double& v : colour.as_shot)
    if (!sane(v)) v = 1;
  return colour;
}

Result<RawFacts> FactsOf(Session& session, const Limits& limits) {
  const auto& data = session.data();
  const auto& s = data.sizes;
  if (Status ok = CheckSize(s.raw_width, s.raw_height, limits); !ok) return ok.error();
  if (Status ok = CheckSize(s.width, s.height, limits); !ok) return ok.error();
  if (data.idata.colors != 1 && data.idata.colors != 3)
    return Error{ErrorCode::kUnsupported,
                 fmt::format("a sensor of {} colours is not read", data.idata.colors), "",
                 "develop it elsewhere to TIFF"};
  RawFacts facts;
  facts.width_px = s.width;
  facts.height_px = s.height;
  facts.orientation = Orientation(s.flip);
  facts.colour = ColourOf(data, facts.matrix_known);
  return facts;
}

// Black, white level and white balance, done here in place: LibRaw's own step clips at black. False when the
// file's raw layout leaves that to LibRaw.
bool Balance(Session& session, const Vec3& gain, const Cancel& cancel) {
  auto& data = session.data();
  auto& raw = data.rawdata;
  auto& color = raw.color;
  const auto& s = data.sizes;
  if (raw.raw_image == nullptr || raw.ph1_cblack != nullptr || color.phase_one_data.format != 0 ||
      session.raw().is_fuji_rotated() || data.idata.filters == 0)
    return false;
  const std::size_t pitch = s.raw_pitch / 2;
  if (pitch < s.raw_width || s.left_margin + s.width > s.raw_width || s.top_margin + s.height > s.raw_height)
    return false;
  const unsigned rows = color.cblack[4], columns = color.cblack[5];
  if (std::uint64_t(rows) * columns > LIBRAW_CBLACK_SIZE - 6) return false;
  // Black is the sum of a common part, one for each colour, and a repeated pattern; the white level is
  // counted from the lowest.
  const auto least = [](const unsigned* from, unsigned count) {
    return count == 0 ? 0 : *std::min_element(from, from + count);
  };
  const double white =
      double(color.maximum) - color.black - least(color.cblack, 4) - least(color.cblack + 6, rows * columns);
  if (!(white > 0)) return false;
  std::array<float, 4> scale{}, black{};
  for (int c = 0; c < 4; ++c) {
    scale[std::size_t(c)] = static_cast<float>(gain[c == 3 ? 1 : c] * kRange / white);
    black[std::size_t(c)] = static_cast<float>(color.black) + static_cast<float>(color.cblack[c]);
  }
  std::vector<std::uint8_t> channel(s.width);
  for (int y = 0; y < s.height && !cancel.requested(); ++y) {
    for (int x = 0; x < s.width; ++x)
      channel[std::size_t(x)] = static_cast<std::uint8_t>(session.raw().COLOR(y, x) & 3);
    std::uint16_t* line = raw.raw_image + pitch * std::size_t(y + s.top_margin) + s.left_margin;
    const unsigned* pattern =
        rows * columns > 0 ? color.cblack + 6 + (unsigned(y) % rows) * columns : nullptr;
    for (unsigned x = 0; x < s.width; ++x) {
      const std::size_t c = channel[x];
      float v = float(line[x]) - black[c];
      if (pattern != nullptr) v -= float(pattern[x % columns]);
      line[x] = static_cast<std::uint16_t>(std::clamp(v * scale[c] + (kFoot + 0.5f), 0.0f, 65535.0f));
    }
  }
  // The work is done: LibRaw copies these and must not do it again.
  color.black = 0;
  std::fill(std::begin(color.cblack), std::end(color.cblack), 0u);
  color.maximum = 65535;
  data.color.black = 0;
  std::fill(std::begin(data.color.cblack), std::end(data.color.cblack), 0u);
  data.color.maximum = 65535;
  return true;
}

// Highlights stay neutral: a clipped channel is only known to be at least its clip level, so it is raised to
// the mean of the two others where that is higher (a clipped neutral would turn magenta otherwise), and where
// all three clip the pixel becomes grey at the highest of them. `near` says how clipped each channel is,
// 0..1; both steps fade in with it.
void Neutralise(float* v, const float near[3]) {
  for (int pass = 0; pass < 6; ++pass)
    for (int c = 0; c < 3; ++c) {
      const float others = 0.5f * (v[(c + 1) % 3] + v[(c + 2) % 3]);
      if (others > v[c]) v[c] += near[c] * (others - v[c]);
    }
  const float all = std::min({near[0], near[1], near[2]});
  if (all > 0) {
    const float most = std::max({v[0], v[1], v[2]});
    for (int c = 0; c < 3; ++c) v[c] += all * (most - v[c]);
  }
}

// LibRaw's four channels to three, of the same 16 bits: highlights never rise above the highest of them.
void Pack(const libraw_data_t& data, const image::LinearSixteen& linear, const Vec3& multipliers,
          const Cancel& cancel, int orientation, image::RgbU16& out) {
  const int width = data.sizes.iwidth, height = data.sizes.iheight;
  const bool grey = data.idata.colors == 1;
  Turned(orientation) ? out.Resize(height, width) : out.Resize(width, height);
  constexpr int kBand = 16;
  std::vector<std::uint16_t> band(3 * kBand * static_cast<std::size_t>(width));
  float clip[3], start[3];
  for (int c = 0; c < 3; ++c) {
    clip[c] = static_cast<float>(multipliers[c]) * 0.985f;
    start[c] = static_cast<float>(multipliers[c]) * 0.93f;
  }
  const float least_start = std::min({start[0], start[1], start[2]});
  const auto least = static_cast<int>(std::floor(least_start / linear.factor + linear.foot));
  for (int y = 0; y < height && !cancel.requested(); ++y) {
    const std::uint16_t(*in)[4] = data.image + std::size_t(y) * std::size_t(width);
    std::uint16_t* to =
        band.data() + static_cast<std::size_t>(y % kBand) * static_cast<std::size_t>(width) * 3;
    for (int x = 0; x < width; ++x, ++in, to += 3) {
      for (int c = 0; c < 3; ++c) to[c] = (*in)[grey ? 0 : c];
      if (grey || std::max({to[0], to[1], to[2]}) < least) continue;
      float v[3], near[3];
      linear(to, 1, v);
      for (int c = 0; c < 3; ++c) near[c] = std::clamp((v[c] - start[c]) / (clip[c] - start[c]), 0.0f, 1.0f);
      if (!(near[0] + near[1] + near[2] > 0)) continue;
      Neutralise(v, near);
      for (int c = 0; c < 3; ++c)
        to[c] = static_cast<std::uint16_t>(
            std::clamp(v[c] / linear.factor + (linear.foot + 0.5f), 0.0f, 65535.0f));
    }
    if (y % kBand == kBand - 1 || y == height - 1)
      PlaceRows(band.data(), y - y % kBand, y % kBand + 1, width, height, orientation, out);
  }
}

}  // namespace

bool LooksLikeRaw(std::span<const std::uint8_t> head) {
  const auto at = [&](std::size_t offset, const char* text, std::size_t size) {
    return head.size() >= offset + size && std::memcmp(head.data() + offset, text, size) == 0;
  };
  // Magic numbers of the formats, from memory; LibRaw alone would also guess from a file's size.
  return at(0, "II*\0", 4) || at(0, "MM\0*", 4) || at(0, "IIU\0", 4) || at(0, "IIRO", 4) ||
         at(0, "IIRS", 4) || at(0, "MMOR", 4) || at(0, "FUJIFILM", 8) || at(4, "ftypcrx", 7) ||
         at(0, "FOVb", 4) || at(0, "\0MRM", 4) || at(6, "HEAPCCDR", 8);
}

Result<RawFacts> ReadRawFacts(const std::filesystem::path& path, const Limits& limits) {
  Session session(limits, Cancel());
  if (const int code = session.Open(path); code != LIBRAW_SUCCESS) return FromLibRaw(code);
  return FactsOf(session, limits);
}

Result<RawPicture> ReadRaw(std::span<const std::uint8_t> bytes, int at_least_long_side_px,
                           const Limits& limits, const Cancel& cancel, bool upright, image::RgbU16 buffer) {
  if (!WholeDng(bytes))
    return Error{ErrorCode::kDamaged, "the raw file ends early", "", "copy it again from its source"};
  const OneThread one_thread;
  Session session(limits, cancel);
  LibRaw& raw = session.raw();
  if (const int code = session.Open(bytes); code != LIBRAW_SUCCESS) return FromLibRaw(code);
  auto facts = FactsOf(session, limits);
  if (!facts.ok()) return facts.error();
  if (const int code = raw.unpack(); code != LIBRAW_SUCCESS) return FromLibRaw(code);
  if (session.damaged() || raw.error_count() > 0)
    return Error{ErrorCode::kDamaged, "the raw data is damaged or ends early", "",
                 "copy it again from its source"};

  auto& data = session.data();
  const Vec3 multipliers = facts->colour.as_shot;
  const double most = std::max({multipliers[0], multipliers[1], multipliers[2]});
  const Vec3 gain{multipliers[0] / most, multipliers[1] / most, multipliers[2] / most};
  const bool half = at_least_long_side_px > 0 && data.idata.filters > 1000 &&
                    std::max(facts->width_px, facts->height_px) / 2 >= 2 * at_least_long_side_px;
  data.params.half_size = half ? 1 : 0;
  double foot = kFoot, one = kRange / most;
  if (Balance(session, gain, cancel)) {
    data.params.no_auto_scale = 1;
  } else {
    // LibRaw balances: highlight = 1 scales so that no channel clips, its 65535 is the highest multiplier.
    for (int c = 0; c < 4; ++c) data.params.user_mul[c] = static_cast<float>(multipliers[c == 3 ? 1 : c]);
    data.params.highlight = 1;
    foot = 0;
    one = 65535 / most;
  }
  if (cancel.requested()) return FromLibRaw(LIBRAW_CANCELLED_BY_CALLBACK);
  if (const int code = raw.dcraw_process(); code != LIBRAW_SUCCESS) return FromLibRaw(code);
  if (data.image == nullptr) return FromLibRaw(LIBRAW_UNSPECIFIED_ERROR);
  RawPicture picture;
  picture.facts = std::move(*facts);
  picture.linear = {static_cast<float>(foot), static_cast<float>(1 / one), kIdentity3};
  picture.camera = std::move(buffer);
  Pack(data, picture.linear, multipliers, cancel, upright ? picture.facts.orientation : 1, picture.camera);
  return picture;
}

}  // namespace samelight::codec
