#include "report/index.h"

#include <algorithm>
#include <cmath>

namespace samelight::report {
namespace {

template <class Map>
auto Find(const Map& map, const typename Map::key_type& key) -> typename Map::mapped_type {
  const auto it = map.find(key);
  return it == map.end() ? typename Map::mapped_type{} : it->second;
}

}  // namespace

Index::Index(const Report& report) : report_(report) {
  for (const record::Role role : {record::Role::kScan, record::Role::kFrame}) {
    std::vector<std::string> paths;
    std::vector<PhotoId> ids;
    for (const record::Photo& p : report.photos)
      if (p.role == role) {
        paths.push_back(p.path);
        ids.push_back(p.id);
      }
    const std::vector<std::string> names = ShortNames(paths);
    for (std::size_t i = 0; i < ids.size(); ++i) names_[ids[i]] = names[i];
  }
  for (const record::Photo& p : report.photos) photos_[p.id] = &p;
  for (const record::Pair& p : report.pairs) pairs_[p.scan] = &p;
  for (const record::FrameSolution& s : report.frames) solutions_[s.frame] = &s;
  for (const record::Light& l : report.lights) {
    for (const PhotoId id : l.frames) lights_[id] = &l;
    for (const PhotoId id : l.scans) lights_[id] = &l;
  }
  for (const record::Roll& r : report.rolls) rolls_[r.id] = &r;
}

const record::Photo* Index::Photo(PhotoId id) const { return Find(photos_, id); }
const record::Pair* Index::PairOfScan(PhotoId scan) const { return Find(pairs_, scan); }
const record::FrameSolution* Index::Solution(PhotoId frame) const { return Find(solutions_, frame); }
const record::Light* Index::LightOf(PhotoId photo) const { return Find(lights_, photo); }
const record::Roll* Index::RollOf(const record::Photo& scan) const { return Find(rolls_, scan.roll); }
std::string Index::NameOf(PhotoId id) const { return Find(names_, id); }
std::string Index::Output(PhotoId frame) const { return Find(report_.outputs, frame); }
std::optional<std::int64_t> Index::TimeUs(const record::Photo& photo) const {
  if (!photo.capture.time_us.has_value()) return {};
  for (const Clock& c : report_.clocks)
    if (c.body == record::BodyName(photo) && std::isfinite(c.offset_s) && std::abs(c.offset_s) < 1e9)
      return *photo.capture.time_us + static_cast<std::int64_t>(c.offset_s * 1e6);
  return photo.capture.time_us;
}
bool Index::Barred(PhotoId scan) const {
  return std::find(report_.barred.begin(), report_.barred.end(), scan) != report_.barred.end();
}

}  // namespace samelight::report
