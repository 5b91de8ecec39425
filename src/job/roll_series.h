// Rolls among the scans of one folder, told by their names.
#pragma once

#include <string>
#include <vector>

namespace samelight::job {

// Labs number the scans of a roll; what stands before the number names the roll ("R1-07", "roll 2_07"). One
// entry per name (without ending): that part, trimmed of separators, or empty for all when the names do not
// fall into series of at least two scans each, or into a single one.
std::vector<std::string> RollSeries(const std::vector<std::string>& stems);

}  // namespace samelight::job
