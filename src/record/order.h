// What is to be delivered, and how. job/order_fields.h says every field in words.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "record/photo.h"

namespace samelight::record {

// Values are kept in session files: new ones go at the end.
enum class FileFormat : std::uint8_t { kJpeg, kTiff8, kTiff16, kPng, kPng16 };
enum class ChromaSampling : std::uint8_t { k444, k422, k420 };  // of JPEG
enum class OutputSpace : std::uint8_t { kSrgb, kDisplayP3, kAdobeRgb, kRec2020, kRomm };
// A part of a delivered file's name; parts are joined by '-'.
enum class NamePart : std::uint8_t { kStem, kNumber, kLight, kDate, kTime, kBody, kRoll, kLabel };
enum class Pictures : std::uint8_t { kFrames, kScans, kBoth };
enum class ScanTreatment : std::uint8_t {
  kUntouched,  // a copy of the lab's file, byte by byte
  kFitted,     // size, space, format and metadata as ordered; colours and grain as they are
};
enum class Tones : std::uint8_t { kColour, kBlackAndWhite };

// At most one of long side, box and print is set; none: as the picture is. Nothing is ever enlarged.
struct OutputSize {
  int long_side_px = 0;
  int box_width_px = 0, box_height_px = 0;         // the box lies or stands as the picture does
  double print_width_cm = 0, print_height_cm = 0;  // the same, at `dpi`
};

struct Order {
  std::string name = "default";
  Pictures pictures = Pictures::kFrames;
  ScanTreatment scans = ScanTreatment::kUntouched;
  int least_rating = -1;  // -1..5; pictures without a rating count as 0
  bool crop = true;       // as framed (Framing); false: whole pictures
  Tones tones = Tones::kColour;

  FileFormat format = FileFormat::kJpeg;
  int quality = 95;  // JPEG
  ChromaSampling sampling = ChromaSampling::k444;
  OutputSpace space = OutputSpace::kSrgb;
  OutputSize size;
  double dpi = 300;

  std::vector<NamePart> names = {NamePart::kStem};
  std::string label;  // the text of NamePart::kLabel
  bool folder_per_light = false;

  bool grain = true;                        // of the film, where it could be measured
  double grain_amount = 1, grain_size = 1;  // times what the scans show
  bool acutance = true;                     // brought to that of the scans, where it could be measured
  double sharpening = 0;                    // gain of the finest detail on top, for the delivered size; 0..2

  bool metadata = true;   // of the original
  bool place = true;      // where it was taken is part of it
  std::string copyright;  // instead of the original's, when not empty
};

// How a frame is framed: turned by quarters, then cut and straightened. The crop's fractions are of the
// upright, turned picture; the cut rectangle is turned about its own middle, so that the content turns
// clockwise by angle_deg. Where its corners would lie outside the picture it is made smaller about its
// middle.
struct Framing {
  int quarter_turns = 0;  // clockwise, 0..3
  Crop crop;
};

// -45..45 degrees, a rectangle of at least 1 % of each side within 0..1, turns 0..3; NaN is unsound.
bool Sound(const Framing& framing);
// True when it leaves a picture as it is.
bool Whole(const Framing& framing);

}  // namespace samelight::record
