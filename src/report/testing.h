// An invented session for the tests of this folder.
#pragma once

#include "report/report.h"

namespace samelight::report {

// Two scans on one roll (one paired, one without a frame), three frames in two lights, one problem.
inline Report SmallReport() {
  Report report;
  report.session = "Water mill";
  report.version = "0.0.1";
  const auto photo = [&](int id, record::Role role, const char* path) {
    record::Photo p;
    p.id = {id};
    p.role = role;
    p.path = path;
    p.width_px = 600;
    p.height_px = 400;
    p.encoding = role == record::Role::kFrame ? record::Encoding::kRaw : record::Encoding::kJpeg;
    report.photos.push_back(p);
  };
  photo(1, record::Role::kScan, "scans/roll 1/000001.jpg");
  photo(2, record::Role::kScan, "scans/roll 1/000002.jpg");
  photo(11, record::Role::kFrame, "frames/A_0001.dng");
  photo(12, record::Role::kFrame, "frames/A_0002.dng");
  photo(13, record::Role::kFrame, "frames/A_0003.dng");
  for (record::Photo& p : report.photos) {
    p.roll = p.role == record::Role::kScan ? RollId{5} : RollId{};
    p.roll_position = p.role == record::Role::kScan ? static_cast<int>(p.id.value) - 1 : -1;
    p.capture.body = "Heron 2";
  }
  report.rolls.push_back({RollId{5}, "roll 1", "Hollin 400", "quayside", false, 1.0, {{1}, {2}}});
  report.lights.push_back({LightId{7}, "light 1", {{11}, {12}}, {{1}}, 180, 0.002});
  report.lights.push_back({LightId{8}, "light 2", {{13}}, {}, 350, 0});
  record::Pair pair;
  pair.scan = {1};
  pair.frame = {12};
  pair.kind = record::PairKind::kMoment;
  pair.confidence = 0.97;
  pair.alternatives = {{PhotoId{11}, record::PairKind::kLight, 0.02}};
  record::Pair none;
  none.scan = {2};
  report.pairs = {pair, none};
  for (const int id : {11, 12, 13}) {
    record::FrameSolution s;
    s.frame = {id};
    s.look = "Hollin 400";
    s.shown.exposure_ev = 0.25;
    s.uncertainty.handles.exposure_ev = 0.1;
    report.frames.push_back(s);
    report.outputs[{id}] = "A_000" + std::to_string(id - 10) + ".jpg";
  }
  record::LeftOver skin;
  skin.region = record::RegionKind::kSkin;
  skin.before = 9;
  skin.after = 3;
  skin.lab_scan = {60, 15, 18};
  skin.lab_after = {60, 18, 18};
  skin.cells = 12;
  skin.nudge = 1.2;
  skin.off_aim = 2.1;
  report.frames[1].scan = {1};
  report.frames[1].left_over = {skin};
  report.frames[2].flags = {{record::FlagKind::kNoFilm, "no film of this light", ""}};
  report.problems.push_back(ProblemFrom(
      "set aside",
      Error{ErrorCode::kDamaged, "the file ends early", "frames/A_0009.dng", "copy it again from the card"}));
  report.clocks = {{"Heron 2", 0, 1}, {"Corvid 3", 37, 0.9}};
  report.scan_nudges[{1}] = {1.4, 0.3};
  report.roll_spreads = {{RollId{5}, 2, 1.9}};
  report.skin_spread = {{LightId{7}, 2, {1.5, 0.5, 0.75}}};
  return report;
}

}  // namespace samelight::report
