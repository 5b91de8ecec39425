#include "job/assets.h"

#include <cstdlib>
#include <system_error>

namespace samelight::job {

std::filesystem::path AssetsFolder() {
  namespace fs = std::filesystem;
  if (const char* named = std::getenv("SAMELIGHT_ASSETS")) return named;
  std::error_code ec;
  const fs::path program = fs::read_symlink("/proc/self/exe", ec);
  if (ec) return {};
  for (const char* place : {"assets", "../assets", "../share/samelight"}) {
    const fs::path folder = (program.parent_path() / place).lexically_normal();
    if (fs::is_directory(folder, ec)) return folder;
  }
  return {};
}

}  // namespace samelight::job
