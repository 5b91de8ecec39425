#include "solve/scan_nudge.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/median.h"
#include "color/difference.h"
#include "solve/spread.h"

namespace samelight::solve {
namespace {

constexpr Vec3 kDeepShadow{0.03, 0.03, 0.03};

Vec3 Printed(const LookVector& look, const Vec3& offset_log10, const record::ScanNudge& nudge,
             const Vec3& scene) {
  PredictVector p{};
  std::copy(look.begin(), look.end(), p.begin());
  for (int c = 0; c < 3; ++c) p[kOffsetAt + c] = offset_log10[c] + nudge.offset_log10[c];
  p[kContrastAt] = nudge.contrast;
  p[kBlackAt] = nudge.black_log10;
  return PredictLab(p, scene);
}

}  // namespace

record::ScanNudge NudgeOf(const FilmSession& session, const FilmFit& fit, std::size_t scan) {
  const FilmSession::Scan& s = session.scans[scan];
  const std::array<double, kNudgeSize>& n = fit.nudge[scan];
  record::ScanNudge nudge;
  for (int c = 0; c < 3; ++c)
    nudge.offset_log10[c] = n[c] - fit.level_part * s.level - fit.grey_part * s.grey[c];
  nudge.contrast = n[3];
  nudge.black_log10 = n[4];
  return nudge;
}

void Add(const record::ScanNudge& nudge, record::Correction& correction) {
  for (int c = 0; c < 3; ++c) {
    correction.offset_log10[c] += nudge.offset_log10[c];
    correction.look.layer[c].gamma *= 1 + nudge.contrast;
    correction.look.layer[c].floor += nudge.black_log10;
  }
}

bool IsOfALab(const record::ScanNudge& nudge) {
  constexpr double kLevel = 0.15, kColour = 0.075;  // five deviations of what is believed (film_fit.h)
  const Vec3& o = nudge.offset_log10;
  const double level = (o[0] + o[1] + o[2]) / 3;
  return std::abs(level) <= kLevel &&
         std::all_of(o.begin(), o.end(), [&](double v) { return std::abs(v - level) <= kColour; });
}

double Difference(const FilmSession& session, const FilmFit& fit, std::size_t scan,
                  const record::ScanNudge& a, const record::ScanNudge& b) {
  const FilmSession::Scan& of = session.scans[scan];
  const LookVector look = fit.LookOf(of.roll, of.light);
  const Vec3 offset_log10 = fit.OffsetOf(of.roll, of.light);
  std::vector<Vec3> scenes(kUsualColours.begin(), kUsualColours.end());
  scenes.push_back(kDeepShadow);
  double sum = 0;
  for (const Vec3& scene : scenes)
    sum += color::Ciede2000(Printed(look, offset_log10, a, scene), Printed(look, offset_log10, b, scene));
  return sum / static_cast<double>(scenes.size());
}

std::vector<RollSpread> SpreadsOfRolls(const FilmSession& session, const FilmFit& fit) {
  std::vector<std::vector<std::size_t>> of_roll(static_cast<std::size_t>(session.rolls));
  for (std::size_t i = 0; i < session.scans.size(); ++i)
    if (session.scans[i].matched) of_roll[static_cast<std::size_t>(session.scans[i].roll)].push_back(i);
  std::vector<RollSpread> spreads;
  for (std::size_t r = 0; r < of_roll.size(); ++r) {
    const std::vector<std::size_t>& scans = of_roll[r];
    if (scans.size() < 2) continue;
    std::vector<double> differences;
    for (std::size_t i = 0; i < scans.size(); ++i)
      for (std::size_t k = i + 1; k < scans.size(); ++k)
        differences.push_back(Difference(session, fit, scans[i], NudgeOf(session, fit, scans[i]),
                                         NudgeOf(session, fit, scans[k])));
    spreads.push_back({static_cast<int>(r), static_cast<int>(scans.size()), Median(differences)});
  }
  return spreads;
}

}  // namespace samelight::solve
