// Nearest neighbours among local descriptors, exact, by brute force.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "measure/descriptors.h"

namespace samelight::pair {

struct Match {
  int a = 0, b = 0;  // indices of the keypoints
  float ratio = 0;   // distance to the nearest over distance to the second nearest, 0..1
};

// Descriptors of one picture, widened for the matcher. Uses at most the first `most` of the features.
// `mirrored`: as if the picture had been flipped left to right before the features were taken.
class QuerySide {
 public:
  QuerySide(const measure::Features& features, int most, bool mirrored = false);
  int size() const { return size_; }

 private:
  friend class TargetSide;
  int size_ = 0;
  std::vector<std::int16_t> rows_;  // size_ x kLocalSize
  std::vector<std::int32_t> half_norm2_;
};

class TargetSide {
 public:
  TargetSide(const measure::Features& features, int most);
  int size() const { return size_; }
  // Pairs of mutually nearest descriptors whose distance ratio, seen from the query, is below `most_ratio`,
  // by rising a. Exact squared euclidean distances (up to rounding by one). Thread safe.
  std::vector<Match> Find(const QuerySide& query, float most_ratio) const;

 private:
  int size_ = 0, padded_ = 0;
  // Blocks of as many rows as a vector has lanes; in a block, dimension pairs of all rows lie side by side.
  std::vector<std::int16_t> blocks_;
  std::vector<std::int32_t> half_norm2_;
};

}  // namespace samelight::pair
