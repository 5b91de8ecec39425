// What delivered files are called.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "record/order.h"
#include "record/pair.h"
#include "record/photo.h"
#include "session/session.h"

namespace samelight::job {

struct NameSource {
  std::vector<const record::Photo*>
      running;  // RunningOrder() of what is delivered: numbers count from 1 in it
  const std::vector<record::Light>* lights = nullptr;
  const std::vector<record::Roll>* rolls = nullptr;
  const std::vector<session::Clock>* clocks = nullptr;
};

// Path of each picture below the output folder, '/' between parts, without the ending. What would not do in a
// file name on any common system becomes '_'; parts that a picture has not are left out. The first picture
// with a name keeps it, the next becomes "name~2", then "name~3", frames before scans, in the order in which
// they came, so that what comes later never changes an earlier name (but numbers count all). Names that
// differ only in case, or in how accents are composed, count as the same: some disks take them so.
std::unordered_map<PhotoId, std::string> OutputNames(const record::Order& order, const NameSource& source);

}  // namespace samelight::job
