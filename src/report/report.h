// What a session came to: for programs (JSON, documented in docs/report.md) and for people (one HTML page).
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/ids.h"
#include "base/result.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::report {

// A file that was set aside, or a frame that could not be delivered.
struct Problem {
  std::string file;  // as the person knows it; may be empty
  std::string what;  // what it means for the delivery: "set aside", "not delivered"
  std::string why;   // the fault, in plain words
  std::string todo;  // what a person can do; may be empty
  ErrorCode code = ErrorCode::kInternal;
};
// `what` happened to the file because of `error`.
Problem ProblemFrom(const std::string& what, const Error& error);

// Clock of one body against the first body's.
struct Clock {
  std::string body;
  double offset_s = 0;    // added to this body's times to meet the first body's clock, seconds
  double confidence = 0;  // 0..1
};

// Everything the two reports tell, as the earlier stages left it. Ids that are not among `photos` are
// skipped. Values that are not finite are written as null (JSON) or left out (HTML), never as NaN.
struct Report {
  std::string session;                        // name of the session, for a person
  std::string version;                        // of the program
  std::vector<record::Photo> photos;          // scans in roll order, frames in time order
  std::vector<record::Roll> rolls;            // rolls that hold no photo of the session are left out
  std::vector<record::Light> lights;          // in time order
  std::vector<record::Pair> pairs;            // at most one per scan; a scan without one has kind none
  std::vector<record::FrameSolution> frames;  // at most one per frame
  std::unordered_map<PhotoId, std::string>
      outputs;  // delivered file of a frame, relative to the report's folder
  struct ScanNudge {
    double de = 0;         // size of the lab's own change to the scan, CIEDE2000 over usual colours
    double influence = 0;  // how far these move in the lights with film without the scan
  };
  std::unordered_map<PhotoId, ScanNudge> scan_nudges;
  // How any two scans of one roll differ by these: the middle, CIEDE2000 over usual colours.
  struct RollSpread {
    RollId roll;
    int scans = 0;
    double de = 0;
  };
  std::vector<RollSpread> roll_spreads;
  std::vector<PhotoId> barred;  // scans kept out of the look
  std::vector<Clock> clocks;
  std::vector<Problem> problems;
  std::vector<std::string> notes;  // on the session as a whole, in plain words
  std::vector<record::Note> seen;  // on single photographs; nothing is done about them
  // How even skin comes out inside a light: standard deviation of its median L*, a*, b* over the frames.
  struct SkinSpread {
    LightId light;
    int frames = 0;
    Vec3 sigma{};
  };
  std::vector<SkinSpread> skin_spread;
  double tolerance = 2.5;    // CIEDE2000 above which a left-over is to be checked
  double follow = 1;         // 0..1, for all frames that have no own value
  bool follow_scan = false;  // frames follow their own scans' nudges, not the mean of their light
  double skin_weight = 6;    // of skin in the solve
};

// A difference that people see or accept, with its source.
struct Threshold {
  const char* name;    // "skin-perceptible"
  const char* text;    // for a person
  double value;        // CIELAB colour difference, see unit
  const char* unit;    // "delta E*ab"
  const char* source;  // publication
};
const std::vector<Threshold>& Thresholds();

// "skin", "face 2", "face 2, shaded side", "foliage".
std::string RegionName(const record::LeftOver& left_over);

// Left-overs of one region over all frames that have a scan of the same moment. Medians, CIEDE2000.
struct RegionTotal {
  record::RegionKind region = record::RegionKind::kOther;
  int frames = 0;
  double before = 0, after = 0;
};

// Counts over the whole session.
struct Totals {
  int scans = 0, moment = 0, light = 0, none = 0, barred = 0;  // scans by kind of their pair
  int frames = 0, solved = 0, delivered = 0;
  int settled = 0, to_check = 0;  // solved frames without and with flags
  int lights = 0, lights_with_film = 0, rolls = 0, problems = 0;
  // What the film itself leaves open: the film-to-film difference inside a roll (Report::RollSpread), mean
  // over so many rolls, each by its scans. 0 rolls: not known.
  double film_to_film = 0;
  int film_to_film_rolls = 0;
  std::vector<RegionTotal> regions;  // in the order of record::kAllRegions
};
Totals Sum(const Report& report);

// Short names for a person: the file name; where two paths share it, with as many of its folders as make it
// unique. Same order as `paths`.
std::vector<std::string> ShortNames(const std::vector<std::string>& paths);

// The report as JSON (UTF-8, keys in a stable order, final newline). Bytes of names that are not UTF-8 are
// replaced.
std::string JsonText(const Report& report);
// The same, written whole or not at all; errors of WriteFileWhole.
Status WriteJson(const std::filesystem::path& path, const Report& report);

enum class Version {
  kOriginal,   // a scan as it came, or a frame as the camera made it
  kDelivered,  // a frame as delivered
};
// A JPEG (sRGB) of one photograph with about the wished long side in pixels, upright; empty if there is none,
// which shows as an empty place. Called from one thread, one picture at a time.
using Thumbnail = std::function<std::vector<std::uint8_t>(PhotoId, Version, int long_side_px)>;

// One self-contained page: no script, no font, no request. Errors of WriteFileWhole.
Status WriteHtml(const std::filesystem::path& path, const Report& report, const Thumbnail& thumbnail);
std::string HtmlText(const Report& report, const Thumbnail& thumbnail);

}  // namespace samelight::report
