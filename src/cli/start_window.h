// Starts the window's program in the place of this one.
#pragma once

#include <filesystem>

#include "base/result.h"

namespace samelight::cli {

// Looks for `samelight-window` beside this program, then on the search path. Comes back only with an error:
// kNotFound when it is not there (built without the window, or its package is not installed), kUnsupported
// without a screen.
Error StartWindow(const std::filesystem::path& session);

}  // namespace samelight::cli
