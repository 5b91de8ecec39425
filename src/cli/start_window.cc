#include "cli/start_window.h"

#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <string>

namespace samelight::cli {

Error StartWindow(const std::filesystem::path& session) {
  // Without a screen the toolkit would only abort.
  const auto is_set = [](const char* variable) {
    const char* value = std::getenv(variable);
    return value != nullptr && *value != '\0';
  };
  if (!is_set("DISPLAY") && !is_set("WAYLAND_DISPLAY") && !is_set("QT_QPA_PLATFORM"))
    return {ErrorCode::kUnsupported, "there is no screen to open the window on", "",
            "start it from a desktop session; every step is on the command line as well"};
  const char* const name = "samelight-window";
  std::string file = session.string();
  std::error_code ec;
  const std::filesystem::path beside =
      std::filesystem::read_symlink("/proc/self/exe", ec).parent_path() / name;
  std::string program = !ec && std::filesystem::exists(beside, ec) ? beside.string() : name;
  char* const arguments[] = {program.data(), file.empty() ? nullptr : file.data(), nullptr};
  execvp(program.c_str(), arguments);
  if (errno == ENOENT)
    return {
        ErrorCode::kNotFound, "the window is not installed with this program", name,
        "install the package samelight with its window, or build with the preset `release`; every step is "
        "on the command line as well"};
  return {ErrorCode::kInternal, std::string("the window could not be started: ") + std::strerror(errno),
          program, ""};
}

}  // namespace samelight::cli
