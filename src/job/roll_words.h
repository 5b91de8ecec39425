// What may be said of a roll.
#pragma once

#include <string>

#include "base/result.h"

namespace samelight::job {

// kInvalidArgument, in plain words, when a roll has no such fact or the value does not fit: name, stock, lab,
// format (not empty), black-and-white and expired (yes or no), push (EV, -3 to 3), rating (ISO, 1 to 12800),
// scan-day (ISO 8601).
Status CheckRollFact(const std::string& key, const std::string& value);

}  // namespace samelight::job
