#include "solve/mixed_light.h"

#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <map>
#include <utility>
#include <vector>

#include "base/median.h"
#include "solve/face_sides.h"
#include "solve/left_over.h"

namespace samelight::solve {
namespace {

constexpr double kApart = 4;    // CIELAB a*b*
constexpr double kStrong = 25;  // chroma: strong colours differ by the look's form too
constexpr std::size_t kFewestOfFace = 12, kFewest = 25;

// What is left of a*b* at places of one kind.
class Part {
 public:
  void Add(const Vec3& scan, const Vec3& frame) {
    a_.push_back(frame[1] - scan[1]);
    b_.push_back(frame[2] - scan[2]);
  }
  std::size_t size() const { return a_.size(); }
  std::pair<double, double> Middle() { return {Median(a_), Median(b_)}; }

 private:
  std::vector<double> a_, b_;
};

bool Apart(Part& one, Part& other, std::size_t fewest) {
  if (one.size() < fewest || other.size() < fewest) return false;
  const auto [a1, b1] = one.Middle();
  const auto [a2, b2] = other.Middle();
  return std::hypot(a1 - a2, b1 - b2) > kApart;
}

struct Place {
  const record::Cell* cell;
  Vec3 scan, frame;
};

std::vector<Place> PlacesOf(const record::Correspondence& matched, const look::Resolved& match) {
  std::vector<Place> places;
  for (const record::Cell& cell : matched.cells)
    if (cell.region != record::RegionKind::kMasked)
      places.push_back({&cell, LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]}),
                        LabOfDisplay(look::Evaluate(match, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]}))});
  return places;
}

// Between two sides of one face, or from face to face.
std::string OnFaces(const std::map<int, std::vector<const Place*>>& faces) {
  std::map<int, Part> whole;
  for (const auto& [face, places] : faces) {
    std::vector<double> lightness;
    for (const Place* p : places) lightness.push_back(p->scan[0]);
    const std::vector<record::Side> sides = SidesOf(lightness);
    Part lit, shaded;
    for (std::size_t i = 0; i < places.size(); ++i) {
      whole[face].Add(places[i]->scan, places[i]->frame);
      if (sides[i] == record::Side::kLit) lit.Add(places[i]->scan, places[i]->frame);
      if (sides[i] == record::Side::kShaded) shaded.Add(places[i]->scan, places[i]->frame);
    }
    if (Apart(lit, shaded, kFewestOfFace)) return fmt::format("both sides of face {}", face + 1);
  }
  for (auto one = whole.begin(); one != whole.end(); ++one)
    for (auto other = std::next(one); other != whole.end(); ++other)
      if (Apart(one->second, other->second, kFewestOfFace))
        return fmt::format("faces {} and {}", one->first + 1, other->first + 1);
  return {};
}

template <class Wanted>
bool HalvesApart(const std::vector<Place>& places, float record::Cell::*at, float from, float to,
                 Wanted&& wanted) {
  Part low, high;
  for (const Place& p : places) {
    const float where = p.cell->*at;
    if (!wanted(p) || std::hypot(p.scan[1], p.scan[2]) > kStrong || (where > from && where < to)) continue;
    (where < from ? low : high).Add(p.scan, p.frame);
  }
  return Apart(low, high, kFewest);
}

}  // namespace

std::string MixedLightOn(const record::Correspondence& matched, const look::Resolved& match) {
  const std::vector<Place> places = PlacesOf(matched, match);
  std::map<int, std::vector<const Place*>> faces;
  for (const Place& p : places)
    if (p.cell->region == record::RegionKind::kSkin && p.cell->face >= 0) faces[p.cell->face].push_back(&p);
  std::erase_if(faces, [](const auto& face) { return face.second.size() < kFewestOfFace; });
  if (faces.empty()) {
    const auto any = [](const Place&) { return true; };
    return HalvesApart(places, &record::Cell::bx, 0.4f, 0.6f, any) ||
                   HalvesApart(places, &record::Cell::by, 0.4f, 0.6f, any)
               ? "both sides of the picture"
               : "";
  }
  if (std::string where = OnFaces(faces); !where.empty()) return where;
  std::vector<float> across;
  for (const auto& [face, of_face] : faces)
    for (const Place* p : of_face) across.push_back(p->cell->bx);
  const float middle = Median(across);
  const bool worn = HalvesApart(places, &record::Cell::bx, middle, middle, [](const Place& p) {
    return p.cell->region == record::RegionKind::kWhiteCloth ||
           p.cell->region == record::RegionKind::kDarkCloth;
  });
  return worn ? "both sides of the clothes" : "";
}

}  // namespace samelight::solve
