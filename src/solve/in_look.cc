#include "solve/in_look.h"

#include <algorithm>

namespace samelight::solve {

bool InLook(const Request& request, PhotoId scan) {
  const auto holds = [&](const std::vector<PhotoId>& scans) {
    return std::find(scans.begin(), scans.end(), scan) != scans.end();
  };
  if (holds(request.barred)) return false;
  const auto m = request.measured.find(scan);
  if (m != request.measured.end() && m->second.black_and_white) return false;
  return std::none_of(request.rolls.begin(), request.rolls.end(), [&](const record::Roll& roll) {
    return (roll.black_and_white || roll.expired) && holds(roll.scans);
  });
}

}  // namespace samelight::solve
