#include "job/find_pictures.h"

#include <algorithm>
#include <system_error>

#include "codec/read.h"
#include "job/stages.h"
#include "pair/timeline.h"

namespace samelight::job {
namespace {

struct Walk {
  const std::set<fs::path>& leave_out;
  const Cancel& cancel;
  std::set<fs::path> visited{};
  FoundPictures found{};

  void Folder(const fs::path& folder, const fs::path& root) {
    if (cancel.requested() || leave_out.contains(folder) || !visited.insert(folder).second) return;
    std::error_code ec;
    fs::directory_iterator entries(folder, ec);
    for (; !ec && entries != fs::directory_iterator(); entries.increment(ec)) {
      const fs::path& path = entries->path();
      const std::string name = path.filename().string();
      if (name.starts_with('.')) continue;
      std::error_code ignored;
      if (entries->is_directory(ignored)) {
        const bool cache = path.extension() == ".cache" &&
                           fs::exists(fs::path(path).replace_extension(".samelight"), ignored);
        const fs::path inner = fs::canonical(path, ignored);
        if (!cache && !inner.empty()) Folder(inner, root);
      } else if (entries->is_regular_file(ignored) && codec::LooksLikePicture(path)) {
        found.pictures.push_back({path, folder, root});
      }
    }
    if (ec)
      found.errors.push_back({ErrorCode::kPermission, "the folder could not be read: " + ec.message(),
                              folder.string(), "check its rights"});
  }
};

}  // namespace

Result<FoundPictures> FindPictures(const std::vector<fs::path>& roots, const std::set<fs::path>& leave_out,
                                   const Cancel& cancel) {
  Walk walk{leave_out, cancel};
  std::set<fs::path> seen;
  FoundPictures all;
  for (const fs::path& root : roots) {
    std::error_code ec;
    const fs::path canonical = fs::canonical(root, ec);
    if (ec)
      return Error{ErrorCode::kNotFound, "there is no such folder or file", root.string(),
                   "check the name, and that the card or disk is connected"};
    walk.found.pictures.clear();
    if (fs::is_directory(canonical, ec)) {
      walk.Folder(canonical, canonical);
    } else if (codec::LooksLikePicture(canonical)) {
      walk.found.pictures.push_back({canonical, canonical.parent_path(), canonical.parent_path()});
    } else {
      return Error{ErrorCode::kUnsupported, "this is no picture file that can be read", root.string(),
                   "name a folder, or a raw, JPEG, TIFF or PNG file"};
    }
    if (cancel.requested()) return Stopped();
    std::sort(walk.found.pictures.begin(), walk.found.pictures.end(),
              [](const FoundPicture& a, const FoundPicture& b) {
                return pair::NaturalLess(a.file.generic_string(), b.file.generic_string());
              });
    for (FoundPicture& picture : walk.found.pictures)
      if (seen.insert(picture.file).second) all.pictures.push_back(std::move(picture));
  }
  all.errors = std::move(walk.found.errors);
  return all;
}

}  // namespace samelight::job
