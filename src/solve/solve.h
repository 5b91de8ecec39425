// From pairs and matched places to one correction per frame.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "base/result.h"
#include "record/correction.h"
#include "record/learned_look.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::solve {

struct Request {
  std::vector<record::Photo> photos;  // scans and frames
  std::unordered_map<PhotoId, record::Measured> measured;
  std::vector<record::Roll> rolls;
  std::vector<record::Light> lights;
  std::vector<record::Pair> pairs;
  std::vector<record::Correspondence> scan_to_frame;
  std::vector<record::Correspondence> frame_to_frame;
  std::vector<PhotoId> barred;  // scans that are not heard
  // Scans under coloured lamps: they tell their own light, and nothing of the look or of other lights.
  std::vector<PhotoId> own_light_only;
  std::unordered_map<PhotoId, double> follow;  // per frame; absent: follow_all
  std::unordered_map<PhotoId, record::Handles> touch;
  double follow_all = 1;
  double follow_skin = 1;
  bool follow_scan = false;
  double skin_weight = 6;
  double tolerance = 2.5;
  // What earlier sessions taught, believed before this one is seen, in the place of what is built in.
  std::optional<record::LearnedLook> earlier;
};

struct Solution {
  std::vector<record::FrameSolution> frames;  // one per frame, in request order
  struct ScanNudge {
    PhotoId scan;
    double de = 0;         // size of the scan's own nudge, CIEDE2000 (scan_nudge.h: Difference)
    double influence = 0;  // how far usual colours move when the scan is taken out, mean CIEDE2000
  };
  std::vector<ScanNudge> nudges;
  struct OfRoll {
    RollId roll;
    int scans = 0;
    double de = 0;  // film-to-film difference inside the roll, CIEDE2000 (scan_nudge.h: SpreadsOfRolls)
  };
  std::vector<OfRoll> rolls;
  struct Taught {
    std::string stock, lab;  // empty: not known
    record::Lesson lesson;   // its session's name is empty
  };
  std::vector<Taught> taught;      // for every stock and lab; none when something earlier was believed
  std::vector<std::string> notes;  // plain words for the report
};

Result<Solution> SolveSession(const Request& request, Progress& progress, const Cancel& cancel);

}  // namespace samelight::solve
