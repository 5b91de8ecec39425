// What may be said of a roll.
#pragma once

#include <string>

#include "base/result.h"

namespace samelight::job {

// kInvalidArgument, in plain words, when a roll has no such fact or the value does not fit: name, stock, lab
// (not empty), black-and-white (yes or no), push (EV, -3 to 3).
Status CheckRollFact(const std::string& key, const std::string& value);

}  // namespace samelight::job
