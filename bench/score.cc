#include "bench/score.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "color/difference.h"

namespace samelight::bench {
namespace {

constexpr int kLeastSkinPx = 200;

double Deviation(const std::vector<double>& v) {
  double mean = 0, sum = 0;
  for (double x : v) mean += x / v.size();
  for (double x : v) sum += (x - mean) * (x - mean);
  return std::sqrt(sum / v.size());
}

GroupScore Over(const std::vector<FrameScore>& scores, const std::vector<FrameFact>& facts,
                const std::vector<std::size_t>& chosen) {
  GroupScore g;
  std::vector<double> mean, p95, skin;
  std::map<int, std::vector<const FrameScore*>> by_light;
  for (std::size_t i : chosen) {
    const FrameScore& s = scores[i];
    if (!s.there) continue;
    ++g.frames;
    mean.push_back(s.mean);
    p95.push_back(s.p95);
    if (s.skin_px >= kLeastSkinPx) skin.push_back(s.skin);
    by_light[facts[i].light].push_back(&s);
  }
  g.mean = Median(mean);
  g.p95 = Median(p95);
  g.skin = Median(skin);
  std::vector<double> spread, spread_of_mean, skin_a, skin_b;
  for (const auto& [light, frames] : by_light) {
    std::vector<double> bias[3], means, a, b;
    for (const FrameScore* s : frames) {
      for (int c = 0; c < 3; ++c) bias[c].push_back(s->bias[c]);
      means.push_back(s->mean);
      if (s->skin_px < kLeastSkinPx) continue;
      a.push_back(s->skin_bias[1]);
      b.push_back(s->skin_bias[2]);
    }
    if (frames.size() >= 2) {
      double sum = 0;
      for (const auto& axis : bias) sum += std::pow(Deviation(axis), 2);
      spread.push_back(std::sqrt(sum));
      spread_of_mean.push_back(Deviation(means));
    }
    if (a.size() >= 2) {
      skin_a.push_back(Deviation(a));
      skin_b.push_back(Deviation(b));
    }
  }
  g.spread = Median(spread);
  g.spread_of_mean = Median(spread_of_mean);
  g.skin_a = Median(skin_a);
  g.skin_b = Median(skin_b);
  return g;
}

}  // namespace

const char* Name(Group group) {
  switch (group) {
    case Group::kFilm:
      return "raw, light with film";
    case Group::kNoFilm:
      return "raw, light without film";
    case Group::kJpegFilm:
      return "camera JPEG, light with film";
    case Group::kJpegNoFilm:
      return "camera JPEG, light without film";
  }
  return "";
}

double Median(std::vector<double> values) {
  std::erase_if(values, [](double v) { return std::isnan(v); });
  if (values.empty()) return kNone;
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return n % 2 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

FrameScore Compare(const LabF& shown, const LabF& truth, const image::PlaneU8& skin) {
  FrameScore score;
  const std::size_t n = truth.pixels();
  if (shown.pixels() != n || n == 0) return score;
  score.there = true;
  std::vector<float> de(n);
  double skin_sum = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const float *a = shown.data().data() + 3 * i, *b = truth.data().data() + 3 * i;
    const double d = color::Ciede2000({a[0], a[1], a[2]}, {b[0], b[1], b[2]});
    de[i] = static_cast<float>(d);
    score.mean += d;
    for (int c = 0; c < 3; ++c) score.bias[c] += a[c] - b[c];
    if (skin.empty() || !skin.data()[i]) continue;
    ++score.skin_px;
    skin_sum += d;
    for (int c = 0; c < 3; ++c) score.skin_bias[c] += a[c] - b[c];
  }
  score.mean /= n;
  for (double& v : score.bias) v /= n;
  if (score.skin_px > 0) {
    score.skin = skin_sum / score.skin_px;
    for (double& v : score.skin_bias) v /= score.skin_px;
  }
  const std::size_t at = std::min(n - 1, static_cast<std::size_t>(std::ceil(0.95 * n)) - 1);  // nearest rank
  std::nth_element(de.begin(), de.begin() + at, de.end());
  score.p95 = de[at];
  return score;
}

RowScore Summarise(const std::vector<FrameScore>& scores, const std::vector<FrameFact>& facts,
                   const std::vector<FrameScore>& untouched) {
  RowScore row;
  std::vector<std::size_t> every;
  for (std::size_t i = 0; i < scores.size(); ++i) every.push_back(i);
  for (Group group : kGroups) {
    std::vector<std::size_t> chosen;
    for (std::size_t i : every)
      if (facts[i].group == group) chosen.push_back(i);
    row.group[static_cast<int>(group)] = Over(scores, facts, chosen);
  }
  row.all = Over(scores, facts, every);
  for (const FrameScore& s : scores) row.missing += s.there ? 0 : 1;
  if (untouched.empty() || row.all.frames == 0) return row;
  row.worst_excess = 0;
  for (std::size_t i : every)
    if (scores[i].there && scores[i].mean > untouched[i].mean) {
      row.worse.push_back({facts[i].name, scores[i].mean - untouched[i].mean});
      row.worst_excess = std::max(row.worst_excess, row.worse.back().excess);
    }
  std::sort(row.worse.begin(), row.worse.end(),
            [](const Worse& a, const Worse& b) { return a.excess > b.excess; });
  row.worse_share = static_cast<double>(row.worse.size()) / row.all.frames;
  return row;
}

}  // namespace samelight::bench
