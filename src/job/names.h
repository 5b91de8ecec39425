// Pictures, rolls and lights as a person names them.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::job {

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
