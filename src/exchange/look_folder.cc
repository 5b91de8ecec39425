#include "exchange/look_folder.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstdlib>

#include "base/file.h"
#include "exchange/look_file.h"

namespace samelight::exchange {
namespace {

namespace fs = std::filesystem;
constexpr const char* kEnding = ".look.json";

Result<record::LearnedLook> ReadLookFile(const fs::path& file) {
  Result<std::vector<std::uint8_t>> bytes = ReadFile(file, kMostLookBytes);
  if (!bytes.ok()) return bytes.error();
  return ReadLook({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, file.string());
}

}  // namespace

fs::path UsualLookFolder() {
  const auto from = [](const char* variable) {
    const char* text = std::getenv(variable);
    const fs::path path = text == nullptr ? "" : text;
    return path.is_absolute() ? path : fs::path();
  };
  if (const fs::path data = from("XDG_DATA_HOME"); !data.empty()) return data / "samelight/looks";
  if (const fs::path home = from("HOME"); !home.empty()) return home / ".local/share/samelight/looks";
  return {};
}

std::string LookFileName(const std::string& name) {
  std::string file;
  for (const char c : name) {
    const bool bad =
        static_cast<unsigned char>(c) < 0x20 || std::string("/\\:*?\"<>|").find(c) != std::string::npos;
    file += bad ? '-' : c;
  }
  if (file.empty() || file[0] == '.') file = "-" + file;
  return file + kEnding;
}

Result<KeptLooks> LooksIn(const fs::path& folder) {
  KeptLooks kept;
  std::error_code ec;
  if (!fs::exists(folder, ec)) return kept;
  fs::directory_iterator entries(folder, ec);
  if (ec) return ErrorFromErrno(ec.value(), "read", folder);
  std::vector<fs::path> files;
  for (const fs::directory_entry& entry : entries)
    if (entry.path().filename().string().ends_with(kEnding)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  for (const fs::path& file : files) {
    Result<record::LearnedLook> look = ReadLookFile(file);
    if (look.ok())
      kept.looks.push_back(std::move(look).value());
    else
      kept.problems.push_back(look.error());
  }
  std::stable_sort(kept.looks.begin(), kept.looks.end(),
                   [](const auto& a, const auto& b) { return a.name < b.name; });
  return kept;
}

Result<record::LearnedLook> FindLook(const fs::path& folder, const std::string& name) {
  if (name.find('/') != std::string::npos || name.ends_with(".json")) return ReadLookFile(name);
  if (std::error_code ec; fs::exists(folder / LookFileName(name), ec))
    return ReadLookFile(folder / LookFileName(name));
  Result<KeptLooks> kept = LooksIn(folder);
  if (!kept.ok()) return kept.error();
  std::vector<std::string> names;
  for (record::LearnedLook& look : kept->looks) {
    if (look.name == name) return std::move(look);
    names.push_back(look.name);
  }
  return Error{ErrorCode::kNotFound, fmt::format("there is no look '{}'", name), folder.string(),
               names.empty() ? "learn one with `samelight look learn`"
                             : fmt::format("there are: {}", fmt::join(names, ", "))};
}

Result<fs::path> KeepLook(const fs::path& folder, const record::LearnedLook& look) {
  const std::string text = LookText(look);
  // What cannot be read again is not written.
  Result<record::LearnedLook> again = ReadLook(text, look.name);
  if (!again.ok()) return again.error();
  std::error_code ec;
  fs::create_directories(folder, ec);
  if (ec) return ErrorFromErrno(ec.value(), "make", folder);
  fs::path file = folder / LookFileName(look.name);
  Status written = WriteFileWhole(file, text);
  if (!written.ok()) return written.error();
  return file;
}

}  // namespace samelight::exchange
