#include "codec/metadata.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <memory>
#include <mutex>

#include <fmt/format.h>
#include <zlib.h>
#include <exiv2/exiv2.hpp>

#include "base/file.h"
#include "codec/orient.h"
#include "codec/read.h"
#include "codec/tiff_walk.h"

namespace samelight::codec {

struct Metadata {
  Exiv2::ExifData exif;
  Exiv2::IptcData iptc;
  Exiv2::XmpData xmp;
};

namespace {

constexpr std::uint64_t kMostValueBytes = 64u << 20;  // maker notes hold previews

// XMP parsing keeps global state: every use of it holds this.
std::mutex& XmpLock() {
  static std::mutex lock;
  return lock;
}

void SetUp() {
  static const bool once = [] {
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);
    const std::lock_guard guard(XmpLock());
    return Exiv2::XmpParser::initialize();
  }();
  (void)once;
}

// Text without trailing blanks and control characters.
std::string Clean(std::string text) {
  std::erase_if(text, [](char c) { return static_cast<unsigned char>(c) < 32; });
  const auto end = text.find_last_not_of(' ');
  const auto begin = text.find_first_not_of(' ');
  if (begin == std::string::npos) return {};
  return text.substr(begin, end - begin + 1);
}

std::string Text(const Exiv2::ExifData& exif, const char* key) {
  const auto it = exif.findKey(Exiv2::ExifKey(key));
  return it == exif.end() ? std::string() : Clean(it->toString());
}

std::optional<double> Number(const Exiv2::ExifData& exif, const char* key) {
  const auto it = exif.findKey(Exiv2::ExifKey(key));
  if (it == exif.end() || it->count() == 0) return {};
  const Exiv2::Rational r = it->toRational();
  // Unsigned fractions come back cast to signed ones.
  const bool is_unsigned = it->typeId() == Exiv2::unsignedRational;
  const auto part = [&](std::int32_t v) {
    return is_unsigned ? double(static_cast<std::uint32_t>(v)) : double(v);
  };
  if (r.second == 0) return {};
  const double value = part(r.first) / part(r.second);
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

std::optional<double> Positive(std::optional<double> value) {
  return value && *value > 0 ? value : std::nullopt;
}

std::optional<long> Whole(const Exiv2::ExifData& exif, const char* key) {
  const auto it = exif.findKey(Exiv2::ExifKey(key));
  if (it == exif.end() || it->count() == 0) return {};
  return it->toLong();
}

// "2024:06:01 15:04:05", sub-seconds "123", zone "+02:00" (CIPA DC-008 4.6.5: tags 36867, 37521, 36881).
void ReadTime(const std::string& date, const std::string& sub, const std::string& zone,
              record::Capture& capture) {
  int y = 0, mo = 0, d = 0, h = 0, mi = 0, s = 0;
  if (std::sscanf(date.c_str(), "%d%*[:-]%d%*[:-]%d%*[ T]%d:%d:%d", &y, &mo, &d, &h, &mi, &s) != 6) return;
  const std::chrono::year_month_day day{std::chrono::year(y), std::chrono::month(static_cast<unsigned>(mo)),
                                        std::chrono::day(static_cast<unsigned>(d))};
  if (!day.ok() || y < 1826 || h < 0 || h > 23 || mi < 0 || mi > 59 || s < 0 || s > 60) return;
  std::int64_t us = std::chrono::sys_days(day).time_since_epoch().count() * std::int64_t{86'400'000'000};
  us += ((h * 60 + mi) * std::int64_t{60} + s) * 1'000'000;
  std::int64_t unit = 100'000;
  for (const char c : sub) {
    if (c < '0' || c > '9') break;
    us += (c - '0') * unit;
    unit /= 10;
  }
  int zh = 0, zm = 0;
  char sign = 0;
  if (std::sscanf(zone.c_str(), "%c%d:%d", &sign, &zh, &zm) == 3 && (sign == '+' || sign == '-') &&
      zh <= 14 && zm <= 59) {
    us -= (sign == '-' ? -1 : 1) * (zh * 60 + zm) * std::int64_t{60'000'000};
    capture.has_zone = true;
  }
  capture.time_us = us;
}

// A crop of the stored picture as one of the upright picture.
record::Crop UprightCrop(record::Crop c, int orientation) {
  const bool back_x = orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8;
  const bool back_y = orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7;
  if (back_x) c = {1 - c.right, c.top, 1 - c.left, c.bottom, 0};
  if (back_y) c = {c.left, 1 - c.bottom, c.right, 1 - c.top, 0};
  return Turned(orientation) ? record::Crop{c.top, c.left, c.bottom, c.right, 0} : c;
}

void ReadExif(const Exiv2::ExifData& exif, Facts& facts) {
  record::Capture& c = facts.capture;
  const std::string original = Text(exif, "Exif.Photo.DateTimeOriginal");
  if (!original.empty())
    ReadTime(original, Text(exif, "Exif.Photo.SubSecTimeOriginal"),
             Text(exif, "Exif.Photo.OffsetTimeOriginal"), c);
  c.exposure_time_s = Positive(Number(exif, "Exif.Photo.ExposureTime"));
  c.aperture = Positive(Number(exif, "Exif.Photo.FNumber"));
  c.iso = Positive(Number(exif, "Exif.Photo.ISOSpeedRatings"));
  // 65535 means "above": the real value is then in the tags of EXIF 2.3.
  if (!c.iso || *c.iso >= 65535) {
    for (const char* key : {"Exif.Photo.RecommendedExposureIndex", "Exif.Photo.StandardOutputSensitivity",
                            "Exif.Photo.ISOSpeed"})
      if (const auto more = Positive(Number(exif, key))) {
        c.iso = more;
        break;
      }
  }
  c.focal_mm = Positive(Number(exif, "Exif.Photo.FocalLength"));
  c.focus_m = Positive(Number(exif, "Exif.Photo.SubjectDistance"));
  if (const auto flash = Whole(exif, "Exif.Photo.Flash")) c.flash = (*flash & 1) != 0;
  c.make = Text(exif, "Exif.Image.Make");
  c.body = Text(exif, "Exif.Image.Model");
  c.serial = Text(exif, "Exif.Photo.BodySerialNumber");
  if (c.serial.empty()) c.serial = Text(exif, "Exif.Image.CameraSerialNumber");
  c.lens = Text(exif, "Exif.Photo.LensModel");
  if (c.lens.empty()) {
    if (const auto it = Exiv2::lensName(exif); it != exif.end()) {
      const std::string name = Clean(it->print(&exif));
      if (!name.empty() && name.front() != '(' && name != "n/a") c.lens = name;
    }
  }
  if (const auto it = exif.findKey(Exiv2::ExifKey("Exif.Photo.FileSource"));
      it != exif.end() && it->count() > 0)
    c.film_scanner = it->toLong() == 1 || it->toLong() == 2;
  c.creator = Text(exif, "Exif.Image.Artist");
  c.copyright = Text(exif, "Exif.Image.Copyright");
  if (const auto o = Whole(exif, "Exif.Image.Orientation"); o && *o >= 1 && *o <= 8)
    facts.orientation = static_cast<int>(*o);
  // DNG DefaultUserCrop (tag 51125): top, left, bottom, right in fractions of the default picture, before
  // orientation.
  if (const auto it = exif.findKey(Exiv2::ExifKey(0xc7b5, "Image")); it != exif.end() && it->count() == 4) {
    record::Crop crop{it->toFloat(1), it->toFloat(0), it->toFloat(3), it->toFloat(2), 0};
    if (crop.left >= 0 && crop.top >= 0 && crop.left < crop.right && crop.top < crop.bottom &&
        crop.right <= 1 && crop.bottom <= 1 &&
        (crop.left > 0 || crop.top > 0 || crop.right < 1 || crop.bottom < 1))
      facts.crop = UprightCrop(crop, facts.orientation);
  }
  facts.adobe_rgb = Text(exif, "Exif.Iop.InteroperabilityIndex") == "R03";
  facts.srgb_named = Whole(exif, "Exif.Photo.ColorSpace").value_or(0) == 1;
}

std::string XmpText(const Exiv2::XmpData& xmp, const char* key) {
  const auto it = xmp.findKey(Exiv2::XmpKey(key));
  if (it == xmp.end()) return {};
  // Alternatives carry a language in front; the value by itself is what counts.
  if (it->typeId() == Exiv2::langAlt) {
    const auto& value = dynamic_cast<const Exiv2::LangAltValue&>(it->value());
    return Clean(value.toString("x-default"));
  }
  return Clean(it->toString());
}

void ReadXmp(const Exiv2::XmpData& xmp, Facts& facts) {
  record::Capture& c = facts.capture;
  const std::string rating = XmpText(xmp, "Xmp.xmp.Rating");
  double value = 0;
  if (!rating.empty() && std::sscanf(rating.c_str(), "%lf", &value) == 1 && value >= -1 && value <= 5)
    c.rating = static_cast<int>(std::lround(value));
  if (c.creator.empty()) c.creator = XmpText(xmp, "Xmp.dc.creator");
  if (c.copyright.empty()) c.copyright = XmpText(xmp, "Xmp.dc.rights");
  if (!c.time_us) {
    const std::string date = XmpText(xmp, "Xmp.exif.DateTimeOriginal");
    if (date.size() >= 19) {
      const auto dot = date.find('.', 19);
      const auto zone = date.find_first_of("+-Z", 19);
      ReadTime(date.substr(0, 19), dot == std::string::npos ? "" : date.substr(dot + 1),
               zone == std::string::npos ? ""
               : date[zone] == 'Z'       ? "+00:00"
                                         : date.substr(zone),
               c);
    }
  }
}

// What is shared by files in memory and on disk. `keep`: where everything goes, if anywhere. Never throws.
Facts ReadFrom(const auto& open, Metadata* keep = nullptr) {
  Facts facts;
  SetUp();
  try {
    const std::lock_guard guard(XmpLock());
    const auto image = open();
    if (image.get() == nullptr) return facts;
    image->readMetadata();
    if (keep != nullptr) *keep = {image->exifData(), image->iptcData(), image->xmpData()};
    // Each part by itself: damage in one does not hide the other.
    try {
      ReadExif(image->exifData(), facts);
    } catch (...) {
    }
    try {
      ReadXmp(image->xmpData(), facts);
    } catch (...) {
    }
  } catch (...) {  // Exiv2::Error, and what the standard library throws on hostile sizes
  }
  return facts;
}

// PNG keeps EXIF in a chunk of its own, eXIf (PNG extensions 1.5.0), which Exiv2 0.27 does not know. Calls
// found(offset, size) with the place of its data.
void FindPngExif(std::span<const std::uint8_t> file, const auto& found) {
  static constexpr std::uint8_t kSignature[8] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};
  if (file.size() < 8 || !std::equal(std::begin(kSignature), std::end(kSignature), file.begin())) return;
  for (std::size_t at = 8; at + 12 <= file.size();) {
    const std::size_t size = std::size_t{file[at]} << 24 | std::size_t{file[at + 1]} << 16 |
                             std::size_t{file[at + 2]} << 8 | std::size_t{file[at + 3]};
    if (size > file.size() - at - 12) return;
    if (std::memcmp(&file[at + 4], "eXIf", 4) == 0) return found(at + 8, size);
    at += size + 12;
  }
}

// Puts EXIF behind the header chunk, which is always first and 25 bytes long.
void InsertPngExif(const Exiv2::ExifData& exif, std::vector<std::uint8_t>& file) {
  Exiv2::Blob blob;
  Exiv2::ExifParser::encode(blob, Exiv2::littleEndian, exif);
  std::vector<std::uint8_t> chunk = {0, 0, 0, 0, 'e', 'X', 'I', 'f'};
  chunk.insert(chunk.end(), blob.begin(), blob.end());
  const auto put = [](std::uint8_t* to, std::size_t v) {
    for (int i = 0; i < 4; ++i) to[i] = static_cast<std::uint8_t>(v >> (24 - 8 * i));
  };
  put(chunk.data(), blob.size());
  const std::size_t sum = ::crc32(0, chunk.data() + 4, static_cast<uInt>(chunk.size() - 4));
  chunk.resize(chunk.size() + 4);
  put(chunk.data() + chunk.size() - 4, sum);
  file.insert(file.begin() + 33, chunk.begin(), chunk.end());
}

// Properties that describe a picture in words; anything that steers a raw developer must not reach a
// delivered file.
bool Descriptive(const Exiv2::Xmpdatum& datum) {
  const std::string group = datum.groupName();
  for (const char* name : {"dc", "xmp", "xmpRights", "Iptc4xmpCore", "iptc", "Iptc4xmpExt", "iptcExt",
                           "photoshop", "exif", "exifEX", "plus"})
    if (group == name) return true;
  return false;
}

bool IsPlace(const Exiv2::Xmpdatum& datum) {
  const std::string name = datum.tagName();
  for (const char* part : {"GPS", "City", "State", "Country", "Location", "Sublocation"})
    if (name.find(part) != std::string::npos) return true;
  return false;
}

// Tags of the first directory that describe the photograph, not the stored pixels (CIPA DC-008 4.6.4).
bool Descriptive(const Exiv2::Exifdatum& datum) {
  const std::string group = datum.groupName();
  if (group == "Photo") {
    const std::string name = datum.tagName();
    for (const char* own :
         {"PixelXDimension", "PixelYDimension", "ColorSpace", "InteroperabilityTag", "MakerNote",
          "ComponentsConfiguration", "CompressedBitsPerPixel", "FocalPlaneXResolution",
          "FocalPlaneYResolution", "FocalPlaneResolutionUnit", "RelatedSoundFile", "CFAPattern"})
      if (name == own) return false;
    return true;
  }
  if (group == "GPSInfo") return true;
  if (group == "Image") {
    const std::string name = datum.tagName();
    for (const char* kept : {"ImageDescription", "Make", "Model", "DateTime", "Artist", "Copyright", "Rating",
                             "RatingPercent", "HostComputer"})
      if (name == kept) return true;
  }
  return false;
}

void CopyExif(const Exiv2::ExifData& from, bool strip_place, Exiv2::ExifData& to) {
  for (const auto& datum : from) {
    if (!Descriptive(datum)) continue;
    if (strip_place && datum.groupName() == "GPSInfo") continue;
    if (datum.size() > 32768) continue;  // would not fit one JPEG segment with the rest
    to.add(Exiv2::ExifKey(datum.key()), &datum.value());
  }
}

void CopyIptc(const Exiv2::IptcData& from, bool strip_place, Exiv2::IptcData& to) {
  for (const auto& datum : from) {
    if (datum.record() != 2) continue;
    // IPTC IIM 4.2: 2:26/27 content location, 2:90 city, 2:92 sub-location, 2:95 province, 2:100/101 country.
    const auto tag = datum.tag();
    const bool place =
        tag == 26 || tag == 27 || tag == 90 || tag == 92 || tag == 95 || tag == 100 || tag == 101;
    if (strip_place && place) continue;
    to.add(Exiv2::IptcKey(datum.key()), datum.getValue().get());
  }
}

void CopyXmp(const Exiv2::XmpData& from, bool strip_place, Exiv2::XmpData& to) {
  for (const auto& datum : from)
    if (Descriptive(datum) && !(strip_place && IsPlace(datum)))
      to.add(Exiv2::XmpKey(datum.key()), &datum.value());
}

}  // namespace

namespace {

void ReadPngExif(std::span<const std::uint8_t> file, Facts& facts, Metadata* keep = nullptr) {
  FindPngExif(file, [&](std::size_t offset, std::size_t size) {
    SetUp();
    try {
      const std::lock_guard guard(XmpLock());  // a directory may hold a packet of XMP as well
      Exiv2::ExifData exif;
      Exiv2::ExifParser::decode(exif, file.data() + offset, static_cast<std::uint32_t>(size));
      ReadExif(exif, facts);
      if (keep != nullptr) keep->exif = exif;
    } catch (...) {  // damaged metadata stays empty
    }
  });
}

}  // namespace

Facts ReadMetadata(std::span<const std::uint8_t> file, std::shared_ptr<const Metadata>* kept) {
  const auto keep = kept != nullptr ? std::make_shared<Metadata>() : nullptr;
  Facts facts = ReadFrom(
      [&] { return Exiv2::ImageFactory::open(file.data(), static_cast<long>(file.size())); }, keep.get());
  ReadPngExif(file, facts, keep.get());
  if (kept != nullptr) *kept = keep;
  return facts;
}

Facts ReadMetadata(const std::filesystem::path& file) {
  // Exiv2 would map a TIFF-built file into memory, and a card that is pulled out meanwhile would end the
  // program by a signal. So the directories and their values are read to their places in an otherwise empty
  // copy: its untouched pages cost nothing.
  std::ifstream in(file, std::ios::binary);
  const auto read = [&](std::uint64_t offset, std::span<std::uint8_t> out) {
    in.clear();
    in.seekg(static_cast<std::streamoff>(offset));
    in.read(reinterpret_cast<char*>(out.data()), static_cast<std::streamsize>(out.size()));
    return in.gcount() == static_cast<std::streamsize>(out.size());
  };
  const TiffParts tiff = WalkTiff(read);
  if (!tiff.parts.empty()) {
    std::error_code failed;
    const std::uint64_t size = std::filesystem::file_size(file, failed);
    if (failed) return {};
    const std::unique_ptr<std::uint8_t, decltype(&std::free)> copy(
        static_cast<std::uint8_t*>(std::calloc(size, 1)), &std::free);
    if (copy == nullptr) return {};
    read(0, {copy.get(), 8});
    for (const TiffPart& part : tiff.parts)
      if (part.kind != TiffPart::Kind::kPixels && part.size <= kMostValueBytes && Within(part, size))
        read(part.offset, {copy.get() + part.offset, part.size});
    return ReadMetadata(std::span<const std::uint8_t>(copy.get(), size));
  }
  Facts facts = ReadFrom([&] { return Exiv2::ImageFactory::open(file.string()); });
  if (const auto head = ReadFileHead(file, Limits{}.most_file_bytes, 1u << 20); head.ok())
    ReadPngExif(*head, facts);
  return facts;
}

Result<std::shared_ptr<const Metadata>> KeepMetadata(const std::filesystem::path& path,
                                                     const Limits& limits) {
  const auto bytes = ReadFile(path, limits.most_file_bytes);
  if (!bytes.ok()) return bytes.error();
  std::shared_ptr<const Metadata> kept;
  ReadMetadata(*bytes, &kept);
  return kept;
}

void ReadSidecar(const std::filesystem::path& picture, Facts& facts) {
  std::vector<std::filesystem::path> names;
  for (const char* ending : {".xmp", ".XMP"}) {
    names.push_back(picture.string() + ending);
    names.push_back(std::filesystem::path(picture).replace_extension(ending));
  }
  for (const auto& name : names) {
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(name, ignored)) continue;
    const auto bytes = ReadFile(name, 16u << 20);
    if (!bytes.ok()) continue;
    SetUp();
    try {
      const std::lock_guard guard(XmpLock());
      Exiv2::XmpData xmp;
      const std::string packet(bytes->begin(), bytes->end());
      if (Exiv2::XmpParser::decode(xmp, packet) == 0) ReadXmp(xmp, facts);
    } catch (...) {
    }
    return;
  }
}

Status PutMetadata(std::vector<std::uint8_t>& encoded, int width_px, int height_px,
                   const WriteOptions& options) {
  SetUp();
  try {
    const std::lock_guard guard(XmpLock());
    const auto target = Exiv2::ImageFactory::open(encoded.data(), static_cast<long>(encoded.size()));
    target->readMetadata();
    Exiv2::ExifData exif = target->exifData();  // a TIFF's own structure is kept
    Exiv2::IptcData iptc;
    Exiv2::XmpData xmp;
    if (options.metadata != nullptr) {
      try {
        CopyExif(options.metadata->exif, options.strip_place, exif);
        CopyIptc(options.metadata->iptc, options.strip_place, iptc);
        CopyXmp(options.metadata->xmp, options.strip_place, xmp);
      } catch (const Exiv2::Error&) {
        // Damaged metadata must not cost the delivery; what was copied before the damage stays.
      }
    }
    exif["Exif.Image.Orientation"] = std::uint16_t{1};
    exif["Exif.Image.Software"] = "Samelight";
    exif["Exif.Photo.ExifVersion"] = "48 50 51 50";
    exif["Exif.Photo.FlashpixVersion"] = "48 49 48 48";
    // Compulsory for compressed files, not allowed in TIFF (CIPA DC-008 4.6.8, tables of tag support).
    if (options.format == Format::kJpeg) {
      exif["Exif.Image.YCbCrPositioning"] = std::uint16_t{1};
      exif["Exif.Photo.ComponentsConfiguration"] = "1 2 3 0";
    }
    if (options.format == Format::kJpeg || options.format == Format::kPng) {
      exif["Exif.Photo.PixelXDimension"] = static_cast<std::uint32_t>(width_px);
      exif["Exif.Photo.PixelYDimension"] = static_cast<std::uint32_t>(height_px);
    }
    exif["Exif.Photo.ColorSpace"] =
        static_cast<std::uint16_t>(options.space == color::Space::kSrgb ? 1 : 65535);
    const Exiv2::URational dpi(static_cast<std::uint32_t>(std::lround(options.dpi * 100)), 100);
    exif["Exif.Image.XResolution"] = dpi;
    exif["Exif.Image.YResolution"] = dpi;
    exif["Exif.Image.ResolutionUnit"] = std::uint16_t{2};
    if (!options.copyright.empty()) {
      exif["Exif.Image.Copyright"] = options.copyright;
      if (const auto it = xmp.findKey(Exiv2::XmpKey("Xmp.dc.rights")); it != xmp.end()) xmp.erase(it);
      xmp["Xmp.dc.rights"] = options.copyright;
      iptc["Iptc.Application2.Copyright"] = options.copyright;
    }
    if (options.format != Format::kPng) target->setExifData(exif);
    target->setIptcData(iptc);
    target->setXmpData(xmp);
    target->writeMetadata();
    Exiv2::BasicIo& io = target->io();
    io.seek(0, Exiv2::BasicIo::beg);
    if (const Exiv2::byte* out = io.mmap(); out != encoded.data()) {
      // The library has a file of its own by now: ours goes before that is copied, they are large.
      std::vector<std::uint8_t>().swap(encoded);
      encoded.assign(out, out + io.size());
    } else {
      encoded.resize(io.size());
    }
    if (options.format == Format::kPng) InsertPngExif(exif, encoded);
  } catch (const std::exception& e) {
    return Error{ErrorCode::kInternal, fmt::format("the metadata could not be written: {}", e.what()), "",
                 ""};
  }
  return {};
}

}  // namespace samelight::codec
