#include "pair/own_word.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "base/median.h"

namespace samelight::pair {
namespace {

constexpr int kNear = 10;      // frames apart: few of them belong to two lights
constexpr double kDoubt = 50;  // links that must say it before it is half believed

}  // namespace

std::vector<double> OwnWord(const std::vector<double>& values, const std::vector<double>& weights,
                            const std::vector<Link>& links) {
  const int n = static_cast<int>(values.size());
  std::vector<double> linked, unlinked, partners(n, 0);
  const std::set<Link> there(links.begin(), links.end());
  const auto known = [&](int i) { return weights[i] > kTrustedWhite; };
  for (const auto& [a, b] : links) {
    if (!known(a) || !known(b)) continue;
    linked.push_back(std::abs(values[a] - values[b]));
    partners[a] += 1;
    partners[b] += 1;
  }
  for (int i = 0; i < n; ++i)
    for (int k = i + 1; k < std::min(n, i + 1 + kNear); ++k)
      if (known(i) && known(k) && !there.count({i, k})) unlinked.push_back(std::abs(values[i] - values[k]));
  std::vector<double> out(n, 1);
  if (linked.empty() || unlinked.empty()) return out;
  const double apart = Median(unlinked), together = Median(linked);
  if (!(apart > together)) return out;
  const double seen = 1 - together * together / (apart * apart), count = static_cast<double>(linked.size());
  const double alike = seen * count / (count + kDoubt);
  for (int i = 0; i < n; ++i) out[i] = 1 / (1 + alike * partners[i]);
  return out;
}

}  // namespace samelight::pair
