#include "codec/dng.h"

#include <tiffio.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <vector>

#include <fmt/format.h>

#include "base/file.h"
#include "codec/tiff_memory.h"

namespace samelight::codec {
namespace {

struct Time {
  std::string date, sub, zone;
};

// EXIF texts of a capture time; the zone is written as UTC when the time is one.
Time TextOf(std::int64_t us, bool has_zone) {
  const std::int64_t seconds = us >= 0 ? us / 1'000'000 : (us - 999'999) / 1'000'000;
  const std::chrono::sys_seconds moment{std::chrono::seconds(seconds)};
  const auto day = std::chrono::floor<std::chrono::days>(moment);
  const std::chrono::year_month_day date(day);
  const std::chrono::hh_mm_ss clock(moment - day);
  return {fmt::format("{:04d}:{:02d}:{:02d} {:02d}:{:02d}:{:02d}", int(date.year()), unsigned(date.month()),
                      unsigned(date.day()), clock.hours().count(), clock.minutes().count(),
                      clock.seconds().count()),
          fmt::format("{:06d}", us - seconds * 1'000'000), has_zone ? "+00:00" : ""};
}

// The EXIF directory, written in front; returns its offset, 0 on failure.
std::uint64_t WriteExif(TIFF* t, const record::Capture& c) {
  if (TIFFCreateEXIFDirectory(t) != 0) return 0;
  const std::uint8_t version[4] = {'0', '2', '3', '2'};
  TIFFSetField(t, EXIFTAG_EXIFVERSION, version);
  if (c.time_us) {
    const Time time = TextOf(*c.time_us, c.has_zone);
    TIFFSetField(t, EXIFTAG_DATETIMEORIGINAL, time.date.c_str());
    TIFFSetField(t, EXIFTAG_DATETIMEDIGITIZED, time.date.c_str());
    TIFFSetField(t, EXIFTAG_SUBSECTIMEORIGINAL, time.sub.c_str());
    TIFFSetField(t, EXIFTAG_SUBSECTIMEDIGITIZED, time.sub.c_str());
    if (!time.zone.empty()) {
      TIFFSetField(t, EXIFTAG_OFFSETTIMEORIGINAL, time.zone.c_str());
      TIFFSetField(t, EXIFTAG_OFFSETTIMEDIGITIZED, time.zone.c_str());
    }
  }
  if (c.exposure_time_s) TIFFSetField(t, EXIFTAG_EXPOSURETIME, *c.exposure_time_s);
  if (c.aperture) TIFFSetField(t, EXIFTAG_FNUMBER, *c.aperture);
  if (c.iso) {
    const auto iso = static_cast<std::uint16_t>(std::clamp(*c.iso, 1.0, 65535.0));
    TIFFSetField(t, EXIFTAG_ISOSPEEDRATINGS, std::uint16_t{1}, &iso);
    TIFFSetField(t, EXIFTAG_SENSITIVITYTYPE, std::uint16_t{2});  // recommended exposure index
    TIFFSetField(t, EXIFTAG_RECOMMENDEDEXPOSUREINDEX, static_cast<std::uint32_t>(std::max(1.0, *c.iso)));
  }
  if (c.focal_mm) TIFFSetField(t, EXIFTAG_FOCALLENGTH, *c.focal_mm);
  if (c.focus_m) TIFFSetField(t, EXIFTAG_SUBJECTDISTANCE, *c.focus_m);
  if (c.flash) TIFFSetField(t, EXIFTAG_FLASH, static_cast<std::uint16_t>(*c.flash ? 1 : 0));
  if (!c.serial.empty()) TIFFSetField(t, EXIFTAG_BODYSERIALNUMBER, c.serial.c_str());
  if (!c.lens.empty()) TIFFSetField(t, EXIFTAG_LENSMODEL, c.lens.c_str());
  TIFFSetField(t, EXIFTAG_FILESOURCE, c.film_scanner ? 1 : 3);
  std::uint64_t offset = 0;
  return TIFFWriteCustomDirectory(t, &offset) ? offset : 0;
}

Status Check(const image::Raster<std::uint16_t, 1>& bayer, const DngSpec& spec) {
  const auto bad = [](const std::string& what) { return Error{ErrorCode::kInvalidArgument, what, "", ""}; };
  if (bayer.width() < 8 || bayer.height() < 8 || bayer.width() > 65535 || bayer.height() > 65535)
    return bad(
        fmt::format("a raw picture of {} x {} pixels can not be written", bayer.width(), bayer.height()));
  if (spec.black < 0 || spec.white <= spec.black || spec.white > 65535)
    return bad(fmt::format("black {} and white {} are not in order within 0..65535", spec.black, spec.white));
  if (spec.orientation < 1 || spec.orientation > 8) return bad("the orientation is outside 1..8");
  for (const std::uint8_t c : spec.pattern)
    if (c > 2) return bad("the filter pattern holds a colour that is not R, G or B");
  for (const double v : spec.as_shot_neutral)
    if (!(v > 0) || !std::isfinite(v)) return bad("the neutral must be positive");
  return {};
}

}  // namespace

Status WriteDng(const std::filesystem::path& path, const image::Raster<std::uint16_t, 1>& bayer,
                const DngSpec& spec) {
  if (Status s = Check(bayer, spec); !s) {
    Error error = s.error();
    error.file = path.string();
    return error;
  }
  TiffMemory memory;
  const auto failed = [&] {
    return Error{ErrorCode::kInternal, "the raw file could not be encoded: " + memory.message(),
                 path.string(), ""};
  };
  {
    TiffPtr tiff = memory.Open(std::numeric_limits<std::int32_t>::max());
    if (!tiff) return failed();
    TIFF* t = tiff.get();
    const std::uint64_t exif = WriteExif(t, spec.capture);
    if (exif == 0) return failed();
    TIFFFreeDirectory(t);  // else its values leak
    if (TIFFCreateDirectory(t) != 0) return failed();
    const record::Capture& c = spec.capture;
    TIFFSetField(t, TIFFTAG_SUBFILETYPE, 0);
    TIFFSetField(t, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(bayer.width()));
    TIFFSetField(t, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(bayer.height()));
    TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, 1);
    TIFFSetField(t, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    TIFFSetField(t, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_CFA);
    TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(t, TIFFTAG_ORIENTATION, spec.orientation);
    const int rows = std::clamp((1 << 18) / (bayer.width() * 2), 1, bayer.height());
    TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(rows));
    const std::string make = c.make.empty() ? "Samelight" : c.make,
                      body = c.body.empty() ? "unnamed body" : c.body;
    TIFFSetField(t, TIFFTAG_MAKE, make.c_str());
    TIFFSetField(t, TIFFTAG_MODEL, body.c_str());
    TIFFSetField(t, TIFFTAG_SOFTWARE, "Samelight");
    TIFFSetField(t, TIFFTAG_UNIQUECAMERAMODEL, (make + " " + body).c_str());
    if (!c.serial.empty()) TIFFSetField(t, TIFFTAG_CAMERASERIALNUMBER, c.serial.c_str());
    if (!c.creator.empty()) TIFFSetField(t, TIFFTAG_ARTIST, c.creator.c_str());
    if (!c.copyright.empty()) TIFFSetField(t, TIFFTAG_COPYRIGHT, c.copyright.c_str());
    if (c.time_us) TIFFSetField(t, TIFFTAG_DATETIME, TextOf(*c.time_us, false).date.c_str());
    TIFFSetField(t, TIFFTAG_EXIFIFD, exif);
    const std::uint8_t version[4] = {1, 4, 0, 0}, backward[4] = {1, 1, 0, 0};
    TIFFSetField(t, TIFFTAG_DNGVERSION, version);
    TIFFSetField(t, TIFFTAG_DNGBACKWARDVERSION, backward);
    const std::uint16_t repeat[2] = {2, 2};
    TIFFSetField(t, TIFFTAG_CFAREPEATPATTERNDIM, repeat);
    TIFFSetField(t, TIFFTAG_CFAPATTERN, std::uint16_t{4}, spec.pattern.data());
    const std::uint8_t planes[3] = {0, 1, 2};
    TIFFSetField(t, TIFFTAG_CFAPLANECOLOR, std::uint16_t{3}, planes);
    TIFFSetField(t, TIFFTAG_CFALAYOUT, 1);
    const std::uint16_t black_repeat[2] = {1, 1};
    TIFFSetField(t, TIFFTAG_BLACKLEVELREPEATDIM, black_repeat);
    const float black = static_cast<float>(spec.black);
    TIFFSetField(t, TIFFTAG_BLACKLEVEL, std::uint16_t{1}, &black);
    const auto white = static_cast<std::uint32_t>(spec.white);
    TIFFSetField(t, TIFFTAG_WHITELEVEL, std::uint16_t{1}, &white);
    float neutral[3];
    for (int i = 0; i < 3; ++i) neutral[i] = static_cast<float>(spec.as_shot_neutral[i]);
    const auto set_matrix = [t](const Mat3& m, int light_source, std::uint32_t light_tag,
                                std::uint32_t matrix_tag) {
      float matrix[9];
      for (int i = 0; i < 9; ++i) matrix[i] = static_cast<float>(m[i / 3][i % 3]);
      TIFFSetField(t, light_tag, light_source);
      TIFFSetField(t, matrix_tag, std::uint16_t{9}, matrix);
    };
    constexpr int kLightA = 17, kD65 = 21;
    if (spec.camera_from_xyz_a) {
      set_matrix(*spec.camera_from_xyz_a, kLightA, TIFFTAG_CALIBRATIONILLUMINANT1, TIFFTAG_COLORMATRIX1);
      set_matrix(spec.camera_from_xyz, kD65, TIFFTAG_CALIBRATIONILLUMINANT2, TIFFTAG_COLORMATRIX2);
    } else {
      set_matrix(spec.camera_from_xyz, kD65, TIFFTAG_CALIBRATIONILLUMINANT1, TIFFTAG_COLORMATRIX1);
    }
    TIFFSetField(t, TIFFTAG_ASSHOTNEUTRAL, std::uint16_t{3}, neutral);
    std::vector<std::uint16_t> strip;
    for (int y = 0; y < bayer.height(); y += rows) {
      const int count = std::min(rows, bayer.height() - y);
      strip.assign(bayer.row(y), bayer.row(y) + std::size_t(count) * std::size_t(bayer.width()));
      if (TIFFWriteEncodedStrip(t, static_cast<std::uint32_t>(y / rows), strip.data(),
                                static_cast<tmsize_t>(strip.size() * 2)) < 0)
        return failed();
    }
    if (!TIFFWriteDirectory(t)) return failed();
  }
  return WriteFileWhole(path, memory.Take());
}

}  // namespace samelight::codec
