#include "base/setting.h"

#include <fmt/format.h>

namespace samelight {

const std::vector<Setting>& AllSettings() {
  static const std::vector<Setting> all = {
      {"follow", "Follow the film", "%", 0, 100, 100,
       "how far to follow the film: 0 is the neutral rendering, 100 the full match",
       "the scans are what the client chose; less is a matter of taste"},
      {"follow-scan", "Follow each scan", "-", 0, 1, 0,
       "1 lets a frame follow its own scan's nudge, 0 the mean of its light",
       "following single scans carries the lab's nudges into the gallery"},
      {"skin-weight", "Weight of skin", "-", 0.25, 16, 6,
       "how much skin counts against other cells in the fit", "skin is what people look at first"},
      {"tolerance", "Tolerance", "CIEDE2000", 0.5, 10, 2.5, "left-over above which a frame is to be checked",
       "differences in images are seen above about 2.5 (Song & Luo 2001)"},
      {"quality", "Quality of JPEG files", "-", 60, 100, 95, "quality of delivered JPEG files",
       "common practice for albums: no visible blocks, moderate size"},
      {"memory", "Memory", "MiB", 0, 1048576, 0,
       "most memory for pictures in work; 0 means a quarter of the machine",
       "leaves room for everything else on a laptop"},
      {"jobs", "Work at once", "-", 0, 1024, 0,
       "pictures, or other pieces of work, done at once; 0 means as many as the machine has cores",
       "all cores, since nobody waits for anything else"},
  };
  return all;
}

const Setting* FindSetting(const std::string& name) {
  for (const Setting& s : AllSettings())
    if (s.name == name) return &s;
  return nullptr;
}

Status CheckSetting(const std::string& name, double value) {
  const Setting* s = FindSetting(name);
  if (s == nullptr)
    return Error{ErrorCode::kInvalidArgument, fmt::format("there is no setting '{}'", name), "", ""};
  if (value >= s->least && value <= s->most) return {};
  const std::string unit = s->unit == "-" ? "" : " " + s->unit;
  return Error{
      ErrorCode::kInvalidArgument,
      fmt::format("{} is {}{}, but goes from {}{} to {}{}", name, value, unit, s->least, unit, s->most, unit),
      "", ""};
}

}  // namespace samelight
