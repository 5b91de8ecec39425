// Where looks are kept: one file each in one folder of the user's.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "record/learned_look.h"

namespace samelight::exchange {

// $XDG_DATA_HOME/samelight/looks, else ~/.local/share/samelight/looks (XDG Base Directory Specification
// 0.8: a relative path there is ignored). Empty when neither is set.
std::filesystem::path UsualLookFolder();

// "<name>.look.json", with what a file name cannot hold replaced.
std::string LookFileName(const std::string& name);

struct KeptLooks {
  std::vector<record::LearnedLook> looks;  // by name
  std::vector<Error> problems;             // files that cannot be used
};
// Every look of the folder; a folder that is not there holds none. kPermission, kUnreadable.
Result<KeptLooks> LooksIn(const std::filesystem::path& folder);

// The look of that name, or, when `name` holds a '/' or ends in .json, of that file. kNotFound names those
// that are there.
Result<record::LearnedLook> FindLook(const std::filesystem::path& folder, const std::string& name);

// Written whole or not at all, over one of the same name; the folder is made. Returns the file.
Result<std::filesystem::path> KeepLook(const std::filesystem::path& folder, const record::LearnedLook& look);

}  // namespace samelight::exchange
