// The loom of a session.
#pragma once

#include "window/model/desk_link.h"
#include "window/model/loom.h"

namespace samelight::window {

// Frames without a light, and scans without one, lie in a last light called "no light yet"; a loose scan lies
// in the light of the scan before it on its roll, else of the one behind it.
Loom LoomOfBook(const job::Book& book);

// "5600 K" for a light's colour, rounded to 50 K; empty when there is no estimate.
std::string WarmthText(double mired);
// "13:24 to 14:28" on the session's clock; empty for unknown times.
std::string WhenText(std::int64_t first_us, std::int64_t last_us);
// "13:41:07".
std::string ClockText(std::int64_t time_us);

}  // namespace samelight::window
