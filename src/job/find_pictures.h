// Picture files under folders.
#pragma once

#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"

namespace samelight::job {

struct FoundPicture {
  std::filesystem::path file;    // canonical folder, own name
  std::filesystem::path folder;  // that it lies in
  std::filesystem::path root;    // the folder that was named; for a single file the folder it lies in
};

struct FoundPictures {
  std::vector<FoundPicture> pictures;  // root by root as named, natural order inside
  std::vector<Error> errors;           // folders that could not be read
};

// Looks below each of `roots` (folders, or single picture files). Hidden names, folders in `leave_out`
// (canonical) and caches of sessions are passed over; links to folders are followed once. kNotFound when a
// root is missing, kUnsupported when a single file is no picture, kCancelled.
Result<FoundPictures> FindPictures(const std::vector<std::filesystem::path>& roots,
                                   const std::set<std::filesystem::path>& leave_out, const Cancel& cancel);

}  // namespace samelight::job
