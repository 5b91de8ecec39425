#include "pair/matcher.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "pair/matcher.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#ifndef SAMELIGHT_PAIR_MATCHER_ONCE
#define SAMELIGHT_PAIR_MATCHER_ONCE
namespace samelight::pair {
// Rows are scored by dot product minus half the other row's squared length: the larger, the nearer. `block`
// order as in TargetSide. best, second, where: per query row; target_best, target_where: per target row, set
// to kLow before.
struct Problem {
  const std::int16_t* query;
  const std::int32_t* query_half_norm2;
  int queries;
  const std::int16_t* blocks;
  const std::int32_t* target_half_norm2;
  int padded;
  std::int32_t *best, *second, *where, *target_best, *target_where;
};
constexpr std::int32_t kLow = std::numeric_limits<std::int32_t>::min() / 2;
}  // namespace samelight::pair
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::pair {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

constexpr int kPairs = measure::kLocalSize / 2;

int LaneCount() { return static_cast<int>(hn::Lanes(hn::ScalableTag<std::int32_t>())); }

#if HWY_TARGET == HWY_SCALAR

void Nearest(const Problem& p) {
  for (int q = 0; q < p.queries; ++q) {
    std::int32_t best = kLow, second = kLow, where = 0;
    const std::int16_t* a = p.query + static_cast<std::size_t>(q) * 2 * kPairs;
    for (int t = 0; t < p.padded; ++t) {
      const std::int16_t* b = p.blocks + static_cast<std::size_t>(t) * 2 * kPairs;
      std::int32_t s = -p.target_half_norm2[t];
      for (int k = 0; k < 2 * kPairs; ++k) s += a[k] * b[k];
      second = std::max(second, std::min(s, best));
      if (s > best) {
        best = s;
        where = t;
      }
      const std::int32_t from_target = s - p.query_half_norm2[q];
      if (from_target > p.target_best[t]) {
        p.target_best[t] = from_target;
        p.target_where[t] = q;
      }
    }
    p.best[q] = best;
    p.second[q] = second;
    p.where[q] = where;
  }
}

#else

template <class D32, class V16, class V32>
HWY_INLINE V32 AddPairProducts(D32 d32, V16 a, V16 b, V32 sum) {
#if HWY_ARCH_X86
  auto unused = hn::Zero(d32);  // on x86 neighbouring products are summed in place
  return hn::ReorderWidenMulAccumulate(d32, a, b, sum, unused);
#else
  const auto a32 = hn::BitCast(d32, a), b32 = hn::BitCast(d32, b);
  const auto even =
      hn::Mul(hn::ShiftRight<16>(hn::ShiftLeft<16>(a32)), hn::ShiftRight<16>(hn::ShiftLeft<16>(b32)));
  return hn::Add(sum, hn::Add(even, hn::Mul(hn::ShiftRight<16>(a32), hn::ShiftRight<16>(b32))));
#endif
}

void Nearest(const Problem& p) {
  const hn::ScalableTag<std::int32_t> d32;
  const hn::Repartition<std::int16_t, decltype(d32)> d16;
  const int lanes = static_cast<int>(hn::Lanes(d32));
  constexpr int kMostLanes = HWY_MAX_BYTES / 4;
  HWY_ALIGN std::int32_t b1[kMostLanes], b2[kMostLanes], at[kMostLanes];
  for (int q0 = 0; q0 < p.queries; q0 += 4) {
    const int rows = std::min(4, p.queries - q0);
    const std::int16_t* row[4];
    for (int r = 0; r < 4; ++r)
      row[r] = p.query + static_cast<std::size_t>(std::min(q0 + r, p.queries - 1)) * 2 * kPairs;
    auto first0 = hn::Set(d32, kLow), first1 = first0, first2 = first0, first3 = first0;
    auto next0 = first0, next1 = first0, next2 = first0, next3 = first0;
    auto index0 = hn::Zero(d32), index1 = index0, index2 = index0, index3 = index0;
    for (int t = 0; t < p.padded; t += lanes) {
      const std::int16_t* block = p.blocks + static_cast<std::size_t>(t) * 2 * kPairs;
      auto s0 = hn::Neg(hn::LoadU(d32, p.target_half_norm2 + t)), s1 = s0, s2 = s0, s3 = s0;
      for (int k = 0; k < kPairs; ++k) {
        const auto b = hn::LoadU(d16, block + static_cast<std::size_t>(k) * 2 * lanes);
        std::int32_t pair[4];
        for (int r = 0; r < 4; ++r) std::memcpy(&pair[r], row[r] + 2 * k, 4);
        s0 = AddPairProducts(d32, hn::BitCast(d16, hn::Set(d32, pair[0])), b, s0);
        s1 = AddPairProducts(d32, hn::BitCast(d16, hn::Set(d32, pair[1])), b, s1);
        s2 = AddPairProducts(d32, hn::BitCast(d16, hn::Set(d32, pair[2])), b, s2);
        s3 = AddPairProducts(d32, hn::BitCast(d16, hn::Set(d32, pair[3])), b, s3);
      }
      const auto id = hn::Iota(d32, t);
      auto target_best = hn::LoadU(d32, p.target_best + t);
      auto target_where = hn::LoadU(d32, p.target_where + t);
      auto track = [&](int r, auto s, auto& first, auto& next, auto& index) HWY_ATTR {
        next = hn::Max(next, hn::Min(s, first));
        index = hn::IfThenElse(hn::RebindMask(d32, hn::Gt(s, first)), id, index);
        first = hn::Max(first, s);
        if (r >= rows) return;
        const auto from_target = hn::Sub(s, hn::Set(d32, p.query_half_norm2[q0 + r]));
        target_where = hn::IfThenElse(hn::Gt(from_target, target_best), hn::Set(d32, q0 + r), target_where);
        target_best = hn::Max(target_best, from_target);
      };
      track(0, s0, first0, next0, index0);
      track(1, s1, first1, next1, index1);
      track(2, s2, first2, next2, index2);
      track(3, s3, first3, next3, index3);
      hn::StoreU(target_best, d32, p.target_best + t);
      hn::StoreU(target_where, d32, p.target_where + t);
    }
    auto reduce = [&](int r, auto first, auto next, auto index) HWY_ATTR {
      if (r >= rows) return;
      hn::Store(first, d32, b1);
      hn::Store(next, d32, b2);
      hn::Store(index, d32, at);
      int l = 0;
      for (int k = 1; k < lanes; ++k)
        if (b1[k] > b1[l] || (b1[k] == b1[l] && at[k] < at[l])) l = k;
      std::int32_t second = b2[l];
      for (int k = 0; k < lanes; ++k)
        if (k != l) second = std::max(second, b1[k]);
      p.best[q0 + r] = b1[l];
      p.second[q0 + r] = second;
      p.where[q0 + r] = at[l];
    };
    reduce(0, first0, next0, index0);
    reduce(1, first1, next1, index1);
    reduce(2, first2, next2, index2);
    reduce(3, first3, next3, index3);
  }
}

#endif

}  // namespace HWY_NAMESPACE
}  // namespace samelight::pair
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::pair {
namespace {

HWY_EXPORT(LaneCount);
HWY_EXPORT(Nearest);
constexpr int kSize = measure::kLocalSize;
constexpr int kTurns = 8, kSide = 4;  // layout of a descriptor: row, column, direction

// In the descriptor's own frame (its main direction lies along x) a flipped picture is flipped top to bottom.
int MirroredIndex(int k) {
  const int turn = k % kTurns, column = k / kTurns % kSide, row = k / (kTurns * kSide);
  return ((kSide - 1 - row) * kSide + column) * kTurns + (kTurns - turn) % kTurns;
}

std::int32_t HalfNorm2(const std::uint8_t* d) {
  std::int32_t sum = 0;
  for (int k = 0; k < kSize; ++k) sum += d[k] * d[k];
  return sum / 2;
}

}  // namespace

QuerySide::QuerySide(const measure::Features& features, int most, bool mirrored)
    : size_(std::min(most, static_cast<int>(features.points.size()))) {
  rows_.resize(static_cast<std::size_t>(size_) * kSize);
  half_norm2_.resize(size_);
  for (int i = 0; i < size_; ++i) {
    const std::uint8_t* d = features.local.data() + static_cast<std::size_t>(i) * kSize;
    for (int k = 0; k < kSize; ++k)
      rows_[static_cast<std::size_t>(i) * kSize + k] = d[mirrored ? MirroredIndex(k) : k];
    half_norm2_[i] = HalfNorm2(d);
  }
}

TargetSide::TargetSide(const measure::Features& features, int most)
    : size_(std::min(most, static_cast<int>(features.points.size()))) {
  const int lanes = HWY_DYNAMIC_DISPATCH(LaneCount)();
  padded_ = (size_ + lanes - 1) / lanes * lanes;
  blocks_.assign(static_cast<std::size_t>(padded_) * kSize, 0);
  half_norm2_.assign(padded_,
                     std::numeric_limits<std::int32_t>::max() / 4);  // padding is far from everything
  for (int i = 0; i < size_; ++i) {
    const std::uint8_t* d = features.local.data() + static_cast<std::size_t>(i) * kSize;
    std::int16_t* block =
        blocks_.data() + static_cast<std::size_t>(i / lanes) * lanes * kSize + i % lanes * 2;
    for (int k = 0; k < kSize; ++k) block[static_cast<std::size_t>(k / 2) * 2 * lanes + k % 2] = d[k];
    half_norm2_[i] = HalfNorm2(d);
  }
}

std::vector<Match> TargetSide::Find(const QuerySide& query, float most_ratio) const {
  std::vector<Match> out;
  if (size_ < 2 || query.size_ < 2) return out;
  std::vector<std::int32_t> best(query.size_), second(query.size_), where(query.size_);
  std::vector<std::int32_t> target_best(padded_, kLow), target_where(padded_, -1);
  HWY_DYNAMIC_DISPATCH(Nearest)
  ({query.rows_.data(), query.half_norm2_.data(), query.size_, blocks_.data(), half_norm2_.data(), padded_,
    best.data(), second.data(), where.data(), target_best.data(), target_where.data()});
  for (int q = 0; q < query.size_; ++q) {
    if (target_where[where[q]] != q) continue;
    const double near2 = 2.0 * (static_cast<double>(query.half_norm2_[q]) - best[q]);
    const double far2 = 2.0 * (static_cast<double>(query.half_norm2_[q]) - second[q]);
    if (far2 <= 0) continue;
    const float ratio = static_cast<float>(std::sqrt(std::max(near2, 0.0) / far2));
    if (ratio < most_ratio) out.push_back({q, where[q], ratio});
  }
  return out;
}

}  // namespace samelight::pair
#endif  // HWY_ONCE
