// The command line.
#pragma once

namespace samelight::cli {

// Runs one command; returns the exit status: 0 all well, 1 some files failed, 2 wrong use, 3 nothing could be
// done, 130 stopped.
int Main(int argc, char** argv);

}  // namespace samelight::cli
