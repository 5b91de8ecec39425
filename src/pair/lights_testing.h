// For tests: invented days without pixels, and how well their lights are found.
#pragma once

#include <algorithm>
#include <set>
#include <vector>

#include "pair/lights.h"

namespace samelight::pair::testing {

struct Lit {
  std::vector<Moment> moments;
  std::vector<int> truth;
  std::vector<Link> links;
};

// F1 over pairs of frames that are in one light.
inline double PairwiseF1(const std::vector<int>& truth, const std::vector<int>& found) {
  double both = 0, only_truth = 0, only_found = 0;
  for (std::size_t i = 0; i < truth.size(); ++i)
    for (std::size_t j = i + 1; j < truth.size(); ++j) {
      const bool t = truth[i] == truth[j], f = found[i] == found[j];
      both += t && f;
      only_truth += t && !f;
      only_found += !t && f;
    }
  return 2 * both / (2 * both + only_truth + only_found);
}

// Each frame shows what the five frames before it show, except over the places in `breaks`.
inline void LinkNeighbours(Lit& s, const std::set<int>& breaks) {
  s.links.clear();
  for (int i = 0; i < static_cast<int>(s.moments.size()); ++i)
    for (int k = std::max(0, i - 5); k < i; ++k) {
      const auto next = breaks.upper_bound(k);
      if (next == breaks.end() || *next > i) s.links.emplace_back(k, i);
    }
}

}  // namespace samelight::pair::testing
