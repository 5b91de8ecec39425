#include "cli/cli.h"

int main(int argc, char** argv) { return samelight::cli::Main(argc, argv); }
