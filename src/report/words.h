// Values in a person's words.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/ids.h"
#include "record/correction.h"
#include "record/photo.h"

namespace samelight::report {

// "3.4", "12"; "–" for what is not finite.
std::string Figure(double value);
// "1 frame", "3 frames".
std::string Count(int count, const std::string& one);
// "13:24" of a camera clock.
std::string ClockTime(std::int64_t time_us);
// How the frame differs from its scan: "alike", "a little darker", "redder". `scan` and `frame` are CIELAB,
// `difference` CIEDE2000.
std::string DifferenceWord(record::RegionKind region, const Vec3& scan, const Vec3& frame, double difference);
// The handles that moved, each with its unit: {"exposure", "+0.42 EV"}.
struct HandleWord {
  std::string name, value;
};
std::vector<HandleWord> HandleWords(const record::Handles& handles);
// What was assumed of the colours of files that do not tell (record::Photo::profile_assumed): one sentence
// for camera raw, one for other files, each with how many there are and one of them by name. Empty when all
// tell.
std::vector<std::string> AssumedColours(const std::vector<record::Photo>& photos);

}  // namespace samelight::report
