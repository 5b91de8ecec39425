#include "solve/reasons.h"

#include <array>
#include <cmath>
#include <map>

#include "look/evaluate.h"
#include "solve/left_over.h"
#include "base/median.h"

namespace samelight::solve {
namespace {

constexpr double kDoubtfulPair = 0.6;

double Level(const Request& request, PhotoId id) {
  const auto m = request.measured.find(id);
  return m == request.measured.end() ? std::log2(look::kMidGrey) : m->second.light.log2_level;
}

// Whether what is left between scan and frame has one colour on one side of the picture and another on the
// other: light from two sources, which one correction cannot follow.
bool IsMixedLight(const record::Correspondence& matched, const look::Resolved& resolved) {
  constexpr double kApart = 4;  // CIELAB a*b*
  constexpr std::size_t kFewest = 25;
  for (const bool across : {true, false}) {
    std::array<std::array<std::vector<double>, 2>, 2> left;  // side, coordinate
    for (const record::Cell& cell : matched.cells) {
      const float at = across ? cell.bx : cell.by;
      if (cell.region == record::RegionKind::kMasked || (at > 0.4f && at < 0.6f)) continue;
      const Vec3 scan = LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]});
      const Vec3 frame =
          LabOfDisplay(look::Evaluate(resolved, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]}));
      if (std::hypot(scan[1], scan[2]) > 25) continue;  // strong colours differ by the look's form too
      for (int c = 0; c < 2; ++c) left[at > 0.5f][c].push_back(frame[c + 1] - scan[c + 1]);
    }
    if (left[0][0].size() < kFewest || left[1][0].size() < kFewest) continue;
    if (std::hypot(Median(left[0][0]) - Median(left[1][0]), Median(left[0][1]) - Median(left[1][1])) > kApart)
      return true;
  }
  return false;
}

}  // namespace

void Judge(const Request& request, const record::Photo& photo, const record::Pair* pair, bool filmed,
           record::FrameSolution& f) {
  if (pair != nullptr) {
    for (const record::Correspondence& c : request.scan_to_frame) {
      if (c.a != pair->scan || c.b != photo.id) continue;
      const double level = Level(request, photo.id);
      f.left_over = MeasureLeftOver(c, photo, level, look::Resolve(f.correction));
      std::string reason = ReasonAtFullFollow(c, photo, level, f.correction, request.tolerance);
      if (!reason.empty()) f.flags.push_back(std::move(reason));
      if (IsMixedLight(c, look::Resolve(f.correction)))
        f.flags.emplace_back("mixed light: one correction does not fit both sides of the picture");
    }
    if (pair->confidence < kDoubtfulPair && !pair->by_person)
      f.flags.emplace_back("the pair with its scan is doubtful");
    if (pair->kind == record::PairKind::kLight)
      f.flags.emplace_back("paired by light only: the scan shows something else");
  }
  if (!filmed) f.flags.emplace_back("no film saw this light: the look is carried over from the others");
  const auto m = request.measured.find(photo.id);
  if (m != request.measured.end() && photo.encoding != record::Encoding::kRaw &&
      m->second.clipped_high > 0.03)
    f.flags.emplace_back("camera JPEG with clipped highlights: they cannot be brought back");
}

void FlagOutliers(const Request& request, Solution& solution) {
  std::map<LightId, std::vector<std::pair<std::size_t, Vec3>>> skin;
  for (std::size_t i = 0; i < solution.frames.size(); ++i) {
    const record::FrameSolution& f = solution.frames[i];
    const auto m = request.measured.find(f.frame);
    if (m == request.measured.end()) continue;
    for (const record::RegionStat& r : m->second.regions)
      if (r.kind == record::RegionKind::kSkin && r.face < 0 && r.area > 0.002)
        skin[f.light].emplace_back(i,
                                   LabOfDisplay(look::Evaluate(look::Resolve(f.correction), r.quantiles[2])));
  }
  for (auto& [light, list] : skin) {
    if (list.size() < 4) continue;
    Vec3 middle;
    for (int c = 0; c < 3; ++c) {
      std::vector<double> v;
      for (const auto& entry : list) v.push_back(entry.second[c]);
      middle[c] = Median(v);
    }
    for (const auto& [i, lab] : list) {
      // Lightness of skin differs from face to face; chroma differences are what the eye sees across a
      // spread.
      const double d = std::hypot(lab[1] - middle[1], lab[2] - middle[2]);
      if (d > 9) solution.frames[i].flags.emplace_back("skin differs from its neighbours in this light");
    }
  }
}

}  // namespace samelight::solve
