// The invented day: which lights, moments, frames and scans there are. No pixels yet.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "simulate/lighting.h"
#include "simulate/photograph.h"

namespace samelight::simulate {

struct SessionOptions {
  std::uint64_t seed = 1;
  std::uint64_t film_seed = 0;    // of the stocks and of the lab; 0: as the rest
  int frame_long_side_px = 1500;  // 200..8000
  int lights = 6;                 // 1..20, those with digital frames
  int frames = 48;                // at least one per light
  int scans = 14;                 // 0: a session without film
  double jpeg_share = 0.25;       // of frames that the camera wrote as JPEG
  bool vignetting = false, flare = false, flash = false, mixed_light = false;
  bool borders = false, dust = false;  // on scans
  bool pushed_roll = false;            // the last roll, by one stop
  bool black_and_white_roll = false;   // one more roll of three scans
  bool skin_of_every_tone = false;     // skin of each photograph brought to another lightness
  int alike = 0;                       // lights that share one place, at different hours; 0 or 2..lights
  bool truth_pictures = true;          // false: of the truth only truth.json, which names no pictures then
  World world = World::kUsual;         // kUnseen: stocks, cameras, lights and lab kept apart from tuning
  bool painted = false;                // no base photographs even when there are some
  std::filesystem::path photographs;   // folder of base photographs; empty or missing: painted scenes
};

struct PlannedLight {
  LightKind kind;
  Lighting lighting;
  std::vector<int> photographs;  // indices into Plan::photographs
  bool filmed = false;
  bool digital = true;  // false: only film saw it
  int stock = 0;        // index into MakeStocks; for lights without film the one that would have been loaded
};

struct Moment {
  int light = 0;
  int photograph = 0;      // index into Plan::photographs
  View view;               // where it happens
  double time_s = 0;       // since midnight
  double brighter_ev = 0;  // a cloud, a step toward the window
  double key_shift = 0;    // added to the key's share
};

struct PlannedFrame {
  int moment = 0, body = 0;  // body 0 or 1
  bool jpeg = false, portrait = false, flash = false;
  View view;
  double time_s = 0;       // true time
  double exposure_ev = 0;  // what the camera was set off by, in thirds of a stop
  std::string file;        // relative to the session folder, '/' between parts
};

struct PlannedScan {
  int moment = 0, roll = 0, position = 0;
  bool portrait = false;
  View view;
  double exposure_error_ev = 0;
  bool mirrored = false;  // the lab scanned it from the wrong side
  int other_people = -1;  // same moment, but this photograph of the light instead: no pixel fits
  std::string file;
};

struct PlannedRoll {
  std::string name;
  int stock = 0;
  double aspect = 4.0 / 3;  // 6x4.5 or 6x7
  double push_ev = 0;
};

struct Plan {
  std::vector<std::string> photographs;  // file names in the folder; empty: painted scenes
  int painted = 0;                       // number of painted scenes
  std::vector<PlannedLight> lights;
  std::vector<Moment> moments;
  std::vector<PlannedFrame> frames;
  std::vector<PlannedRoll> rolls;
  std::vector<PlannedScan> scans;
  int cameras[2] = {0, 1};    // indices for MakeCamera
  double clock_offset_s = 0;  // clock of body 1 minus clock of body 0
  bool IsPainted() const { return photographs.empty(); }
};

// Everything follows from the options and the file names found. kInvalidArgument names the option that is out
// of range.
Result<Plan> MakePlan(const SessionOptions& options);

}  // namespace samelight::simulate
