// A photograph of a session: where it is, what made it, how it was taken.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/ids.h"
#include "base/matrix.h"

namespace samelight::record {

enum class Role { kScan, kFrame };            // scan: a film scan from the lab; frame: a digital photograph
enum class Encoding { kRaw, kJpeg, kTiff, kPng };  // raw is scene-referred, the others display-referred

// "scan"/"frame", "raw"/"jpeg"/"tiff"/"png".
const char* Name(Role role);
const char* Name(Encoding encoding);

// When and how a picture was taken, from its metadata (EXIF, XMP). Absent values are empty.
struct Capture {
  // Microseconds since 1970-01-01 of the camera's own clock, as written: if the file names a zone, it has been
  // subtracted (has_zone), otherwise the camera's local time is taken as it is.
  std::optional<std::int64_t> time_us;
  bool has_zone = false;
  std::optional<double> exposure_time_s;
  std::optional<double> aperture;      // f-number
  std::optional<double> iso;           // sensitivity as set
  std::optional<double> focal_mm;
  std::optional<double> focus_m;       // distance to the subject, if written
  std::optional<bool> flash;           // EXIF Flash, bit 0: fired
  std::string make, body, serial, lens;
  bool film_scanner = false;           // EXIF FileSource 1 or 2: a film or reflection-print scanner
  std::optional<int> rating;           // XMP xmp:Rating, -1 (rejected) to 5
  std::optional<int> sequence;         // running order, when standard metadata holds one
  std::string creator, copyright;      // carried to delivered files
};

// A crop in fractions of the upright picture, and a straightening angle (degrees, clockwise positive).
struct Crop {
  double left = 0, top = 0, right = 1, bottom = 1;
  double angle_deg = 0;
};

// The colour of a camera raw file. White-balanced camera values (black subtracted, scaled to 1 at the white level,
// multiplied by as_shot) go through rec2020_from_camera to linear BT.2020, D65. Rows of rec2020_from_camera sum to 1,
// so a camera neutral (1,1,1) stays neutral.
struct RawColour {
  Vec3 as_shot{1, 1, 1};               // multipliers of R, G, B; green is 1
  Vec3 daylight{1, 1, 1};              // multipliers that make D65 neutral by the camera's matrix; green is 1
  Mat3 rec2020_from_camera = kIdentity3;
  // The same for values balanced for daylight: by it the colour of the light itself is told. The two differ where
  // the file tells the camera's colours under two lights.
  Mat3 rec2020_from_daylight = kIdentity3;
  // Camera values as they are, not balanced, to linear BT.2020 of the light as it is, by the camera's colours under
  // that light: nothing is adapted. The white of D65 comes out with green 1. Identity: not known.
  Mat3 rec2020_unadapted = kIdentity3;
};

struct Photo {
  PhotoId id;
  Role role = Role::kFrame;
  Encoding encoding = Encoding::kJpeg;
  std::string path;                    // relative to the session file's folder, '/' between parts
  std::string hash;                    // content hash, 32 hex digits; empty until the first decode
  std::uint64_t bytes = 0;
  std::int64_t modified_us = 0;        // file system time
  int width_px = 0, height_px = 0;     // upright, after orientation
  Capture capture;
  std::optional<Crop> crop;            // the editor's existing crop, if metadata holds one
  RawColour raw;                       // meaningful for kRaw only
  bool profile_assumed = false;        // no colour space is named (raw: no matrix is known): sRGB was taken
  std::string profile_name;            // description of the embedded profile, or what was taken instead
  RollId roll;                         // scans only
  int roll_position = -1;              // place in the roll by natural file order, from 0
};

// Name of the body that took a photograph, the same for its raw files and its JPEGs: model and serial number as far as
// they are written, else "unknown body".
std::string BodyName(const Photo& photo);

// Name of the source a photograph comes from: body and encoding ("body A raw" and "body A jpeg" are two sources).
std::string SourceName(const Photo& photo);

}  // namespace samelight::record
