// The whole job in the window without a pointer.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

namespace samelight::bench {

// From no session to delivered files and a proof sheet by keys alone: into `work`, a picture at each step
// into `shots`. `expect` hears of each step whether it held.
void WalkByKeys(const std::string& film, const std::string& digital, const std::filesystem::path& work,
                const std::filesystem::path& shots, const std::function<void(bool, const char*)>& expect);

}  // namespace samelight::bench
