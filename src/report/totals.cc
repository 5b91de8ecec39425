#include <algorithm>
#include <cmath>

#include "report/index.h"

namespace samelight::report {
namespace {

// Lower middle value; values is not empty.
double Median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>((values.size() - 1) / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// A frame counts once: by the region as a whole where that was compared, else by its faces.
RegionTotal TotalOf(const Report& report, record::RegionKind kind) {
  std::vector<double> before, after;
  RegionTotal total{kind};
  for (const record::FrameSolution& s : report.frames) {
    const auto counts = [&](const record::LeftOver& l) {
      return l.region == kind && l.side == record::Side::kWhole && std::isfinite(l.before) &&
             std::isfinite(l.after);
    };
    const bool whole = std::any_of(s.left_over.begin(), s.left_over.end(),
                                   [&](const record::LeftOver& l) { return counts(l) && l.face < 0; });
    std::vector<double> own_before, own_after;
    for (const record::LeftOver& l : s.left_over)
      if (counts(l) && (!whole || l.face < 0)) {
        own_before.push_back(l.before);
        own_after.push_back(l.after);
      }
    if (own_before.empty()) continue;
    ++total.frames;
    before.push_back(Median(own_before));
    after.push_back(Median(own_after));
  }
  if (total.frames == 0) return total;
  total.before = Median(before);
  total.after = Median(after);
  return total;
}

}  // namespace

Totals Sum(const Report& report) {
  const Index index(report);
  Totals t;
  std::vector<RollId> rolls;
  for (const record::Photo& p : report.photos) {
    if (p.role == record::Role::kScan) {
      ++t.scans;
      const record::Pair* pair = index.PairOfScan(p.id);
      const record::PairKind kind = pair == nullptr ? record::PairKind::kNone : pair->kind;
      if (kind == record::PairKind::kMoment) ++t.moment;
      if (kind == record::PairKind::kLight) ++t.light;
      if (kind == record::PairKind::kNone) ++t.none;
      if (index.Barred(p.id)) ++t.barred;
      if (p.roll.valid() && std::find(rolls.begin(), rolls.end(), p.roll) == rolls.end())
        rolls.push_back(p.roll);
      continue;
    }
    ++t.frames;
    if (!index.Output(p.id).empty()) ++t.delivered;
    const record::FrameSolution* solution = index.Solution(p.id);
    if (solution == nullptr) continue;
    ++t.solved;
    ++(solution->flags.empty() ? t.settled : t.to_check);
  }
  t.rolls = static_cast<int>(rolls.size());
  t.lights = static_cast<int>(report.lights.size());
  for (const record::Light& l : report.lights) t.lights_with_film += l.scans.empty() ? 0 : 1;
  t.problems = static_cast<int>(report.problems.size());
  double sum = 0;
  int scans = 0;
  for (const Report::RollSpread& s : report.roll_spreads) {
    if (!std::isfinite(s.de) || s.scans < 2) continue;
    sum += s.de * s.scans;
    scans += s.scans;
    ++t.film_to_film_rolls;
  }
  if (scans > 0) t.film_to_film = sum / scans;
  for (const record::RegionKind kind : record::kAllRegions)
    if (const RegionTotal total = TotalOf(report, kind); total.frames > 0) t.regions.push_back(total);
  return t;
}

}  // namespace samelight::report
