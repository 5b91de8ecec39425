// Names: of delivered files, and of pictures as a person types them.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "base/result.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::job {

// Stems of delivered files. The first photo with a stem keeps it, the next becomes "stem~2", then "~3". Stems
// that differ only in case count as the same (disks of other systems would lose one). `frames` in the order
// in which they came, so that frames that come later never change an earlier name.
std::unordered_map<PhotoId, std::string> OutputStems(const std::vector<record::Photo>& frames);

// The photo of `role` that `name` means: its file name, its stem, or the end of its path. kNotFound, or
// kInvalidArgument when several could be meant.
Result<PhotoId> FindPhoto(const std::vector<record::Photo>& photos, record::Role role,
                          const std::string& name);
// The same for any role.
Result<PhotoId> FindPhoto(const std::vector<record::Photo>& photos, const std::string& name);

Result<RollId> FindRoll(const std::vector<record::Roll>& rolls, const std::string& name);
// The index into `lights`.
Result<std::size_t> FindLight(const std::vector<record::Light>& lights, const std::string& name);

}  // namespace samelight::job
