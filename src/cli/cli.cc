#include "cli/cli.h"

#include <unistd.h>

#include <cstdio>
#include <exception>
#include <new>

#include <fmt/format.h>

#include "cli/commands.h"
#include "cli/progress_lines.h"
#include "cli/stop.h"

namespace samelight::cli {

int Main(int argc, char** argv) {
  int status = kNothingDone;
  try {
    ProgressLines progress(::isatty(STDERR_FILENO) == 1);
    const job::Work work{progress, StopOnSignal()};
    status = Commands(work).Run(argc, argv);
  } catch (const std::bad_alloc&) {
    fmt::print(stderr,
               "samelight: there is not enough memory: close other programs, or set --memory lower\n");
  } catch (const std::exception& e) {
    fmt::print(stderr, "samelight: something unexpected failed: {}\n", e.what());
  }
  // A full disk or a closed pipe must not look like success.
  if (std::fflush(stdout) != 0 && status == kAllWell) status = kNothingDone;
  return status;
}

}  // namespace samelight::cli
