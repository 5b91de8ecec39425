#include "solve/teach.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "solve/hold_grey.h"

namespace samelight::solve {
namespace {

// The mean of some rolls' looks: their common part and a share of each roll's difference.
record::Belief MeanLook(const FilmFit& fit, const std::set<int>& rolls) {
  const auto size = static_cast<std::size_t>(fit.LooksSize());
  const double share = 1.0 / static_cast<double>(rolls.size());
  record::Belief belief;
  for (int i = 0; i < kLookSize; ++i) {
    double mean = fit.common[i];
    for (const int r : rolls) mean += share * fit.roll[r][i];
    belief.mean.push_back(mean);
  }
  // Where a number of the mean look stands in the fit, with its factor.
  const auto parts = [&](int i) {
    std::vector<std::pair<std::size_t, double>> list = {{i, 1.0}};
    for (const int r : rolls) list.emplace_back(static_cast<std::size_t>(kLookSize) * (1 + r) + i, share);
    return list;
  };
  for (int i = 0; i < kLookSize; ++i)
    for (int k = 0; k <= i; ++k) {
      double sum = 0;
      for (const auto& [a, fa] : parts(i))
        for (const auto& [b, fb] : parts(k)) sum += fa * fb * fit.looks_covariance[a * size + b];
      belief.covariance.push_back(sum);
    }
  return belief;
}

// A fit may end a little outside of what a look file takes.
template <class Numbers>
void KeepInRange(const Numbers& numbers, record::Belief& belief) {
  for (std::size_t i = 0; i < numbers.size(); ++i)
    belief.mean[i] = std::clamp(belief.mean[i], numbers[i].least, numbers[i].most);
}

// How well the rule tells each light from the others.
void TellSpread(const std::vector<FilmedLight>& lights, record::Lesson& lesson) {
  double level = 0, colour = 0;
  for (std::size_t i = 0; i < lights.size(); ++i) {
    std::vector<FilmedLight> others = lights;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
    const Vec3 told = LightRule(std::move(others), BuiltIn().rule).For(lights[i].state).mean;
    Vec3 off;
    for (int c = 0; c < 3; ++c) off[c] = told[c] - lights[i].offset[c];
    const double common = (off[0] + off[1] + off[2]) / 3;
    level += common * common / static_cast<double>(lights.size());
    for (double v : off) colour += (v - common) * (v - common) / (2 * static_cast<double>(lights.size()));
  }
  lesson.level_sigma = std::sqrt(level);
  lesson.colour_sigma = std::sqrt(colour);
}

}  // namespace

std::vector<Solution::Taught> Teach(const FilmSession& session, const FilmFit& fit,
                                    const std::vector<record::Roll>& rolls,
                                    const std::vector<LightState>& states) {
  struct Group {
    std::set<int> rolls, lights;
    int scans = 0;
  };
  std::map<std::pair<std::string, std::string>, Group> groups;
  for (const FilmSession::Scan& scan : session.scans) {
    if (scan.own_light_only) continue;
    const bool known = scan.roll < static_cast<int>(rolls.size());
    Group& group = groups[known ? std::pair(rolls[scan.roll].stock, rolls[scan.roll].lab)
                                : std::pair<std::string, std::string>()];
    group.rolls.insert(scan.roll);
    group.lights.insert(scan.light);
    ++group.scans;
  }
  std::vector<Solution::Taught> all;
  for (const auto& [key, group] : groups) {
    Solution::Taught taught;
    taught.stock = key.first;
    taught.lab = key.second;
    record::Lesson& lesson = taught.lesson;
    lesson.scans = group.scans;
    lesson.lights = static_cast<int>(group.lights.size());
    for (const int r : group.rolls)
      if (r < static_cast<int>(rolls.size())) lesson.rolls.push_back(rolls[r].name);
    lesson.look = MeanLook(fit, group.rolls);
    // The rule is told by offsets under the look that is taught.
    LookVector stray;
    for (int i = 0; i < kLookSize; ++i) stray[i] = lesson.look.mean[i] - fit.common[i];
    const Vec3 held = HoldGrey(stray);
    std::vector<FilmedLight> lights;
    for (const int l : group.lights) {
      Vec3 offset;
      for (int c = 0; c < 3; ++c) offset[c] = fit.light[l][c] + held[c];
      lights.push_back({states[l], offset, {}});
      for (const FilmSession::Scan& scan : session.scans)
        if (scan.light == l && group.rolls.contains(scan.roll)) lights.back().rolls.push_back(scan.roll);
      lesson.frames += states[l].frames;
    }
    lesson.rule = LightRule(lights, BuiltIn().rule).Taught();
    KeepInRange(record::LookNumbers(), lesson.look);
    KeepInRange(record::RuleNumbers(), lesson.rule);
    TellSpread(lights, lesson);
    all.push_back(std::move(taught));
  }
  return all;
}

}  // namespace samelight::solve
