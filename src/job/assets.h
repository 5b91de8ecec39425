// Where the files lie that come with the program.
#pragma once

#include <filesystem>

namespace samelight::job {

// The folder with models/ and photos/: $SAMELIGHT_ASSETS, or beside the program ("assets"), one above it (a
// build tree), or where packages install it
// ("../share/samelight"). Empty when there is none; everything works without, with less.
std::filesystem::path AssetsFolder();

}  // namespace samelight::job
