// One description per setting; flags, widgets, session keys, documentation and validation are made from it.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"

namespace samelight {

struct Setting {
  std::string name;   // "follow": lower case, words joined by '-'
  std::string title;  // the same for a person to read: "Follow the film"
  std::string unit;   // "%", "px", "EV"; "-" for a plain number
  double least = 0;
  double most = 1;
  double usual = 0;  // the default
  std::string help;  // one sentence for a person
  std::string why;   // why this default
};

// Every setting of the program, in the order in which they are listed for a person.
const std::vector<Setting>& AllSettings();
// The setting called `name`; nullptr if there is none.
const Setting* FindSetting(const std::string& name);
// kInvalidArgument, naming the value, its unit and the range, when `value` is outside; NaN always is.
Status CheckSetting(const std::string& name, double value);

}  // namespace samelight
