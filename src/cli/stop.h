// Ctrl-C and the polite kill become a request to stop.
#pragma once

#include "base/cancel.h"

namespace samelight::cli {

// From now on SIGINT and SIGTERM request the returned token. A second one ends the process at once with
// status 130, which is safe: files appear only whole and the session rolls back. Call once.
Cancel StopOnSignal();

}  // namespace samelight::cli
