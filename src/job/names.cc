#include "job/names.h"

#include <algorithm>
#include <filesystem>
#include <functional>

#include <fmt/format.h>

namespace samelight::job {
namespace {

namespace fs = std::filesystem;

// How well `name` means `path`: 3 the whole path, 2 the end of it at a '/', 1 the stem, 0 not at all.
int Fit(const std::string& path, const std::string& name) {
  if (path == name) return 3;
  if (path.size() > name.size() && path.ends_with(name) && path[path.size() - name.size() - 1] == '/')
    return 2;
  return fs::path(path).stem().string() == name ? 1 : 0;
}

Result<PhotoId> Find(const std::vector<record::Photo>& photos, const std::string& name,
                     const std::string& kind, const std::function<bool(const record::Photo&)>& wanted) {
  int best = 0;
  std::vector<const record::Photo*> found;
  for (const record::Photo& photo : photos) {
    if (!wanted(photo)) continue;
    const int fit = Fit(photo.path, name);
    if (fit == 0 || fit < best) continue;
    if (fit > best) found.clear();
    best = fit;
    found.push_back(&photo);
  }
  if (found.empty())
    return Error{ErrorCode::kNotFound, fmt::format("there is no {} called '{}' in the session", kind, name),
                 "", "`samelight show SESSION` lists them"};
  if (found.size() > 1)
    return Error{ErrorCode::kInvalidArgument,
                 fmt::format("'{}' could be {} or {}", name, found[0]->path, found[1]->path), "",
                 "name more of the path"};
  return found.front()->id;
}

}  // namespace

Result<PhotoId> FindPhoto(const std::vector<record::Photo>& photos, record::Role role,
                          const std::string& name) {
  return Find(photos, name, record::Name(role),
              [&](const record::Photo& photo) { return photo.role == role; });
}

Result<PhotoId> FindPhoto(const std::vector<record::Photo>& photos, const std::string& name) {
  return Find(photos, name, "picture", [](const record::Photo&) { return true; });
}

Result<RollId> FindRoll(const std::vector<record::Roll>& rolls, const std::string& name) {
  for (const record::Roll& roll : rolls)
    if (roll.name == name) return roll.id;
  return Error{ErrorCode::kNotFound, fmt::format("there is no roll called '{}' in the session", name), "",
               "`samelight show SESSION` lists them"};
}

Result<std::size_t> FindLight(const std::vector<record::Light>& lights, const std::string& name) {
  for (std::size_t i = 0; i < lights.size(); ++i)
    if (lights[i].name == name) return i;
  return Error{ErrorCode::kNotFound, fmt::format("there is no light called '{}' in the session", name), "",
               "`samelight show SESSION` lists them"};
}

}  // namespace samelight::job
