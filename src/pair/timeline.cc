#include "pair/timeline.h"

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <limits>
#include <numeric>
#include <tuple>

namespace samelight::pair {

bool NaturalLess(const std::string& a, const std::string& b) {
  std::size_t i = 0, j = 0;
  const auto digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
  while (i < a.size() && j < b.size()) {
    if (digit(a[i]) && digit(b[j])) {
      const auto number = [&](const std::string& s, std::size_t& k) {
        while (k < s.size() && s[k] == '0') ++k;
        const std::size_t from = k;
        while (k < s.size() && digit(s[k])) ++k;
        return s.substr(from, k - from);
      };
      const std::string m = number(a, i), n = number(b, j);
      if (m.size() != n.size()) return m.size() < n.size();
      if (m != n) return m < n;
      continue;
    }
    const int x = std::tolower(static_cast<unsigned char>(a[i])),
              y = std::tolower(static_cast<unsigned char>(b[j]));
    if (x != y) return x < y;
    ++i;
    ++j;
  }
  if (i < a.size() || j < b.size()) return i >= a.size();
  return a < b;
}

Timeline OrderFrames(const std::vector<const record::Photo*>& frames,
                     const std::vector<std::optional<double>>& times, const std::vector<Kin>& kin) {
  const int n = static_cast<int>(frames.size());
  std::vector<int> by_name(n), name_rank(n);
  std::iota(by_name.begin(), by_name.end(), 0);
  std::stable_sort(by_name.begin(), by_name.end(),
                   [&](int a, int b) { return NaturalLess(frames[a]->path, frames[b]->path); });
  for (int r = 0; r < n; ++r) name_rank[by_name[r]] = r;

  // Where each frame stands: a time, and for frames without one the time of the frame that it follows.
  constexpr double kEnd = std::numeric_limits<double>::max();
  std::vector<double> stand(n, kEnd), strength(n, 0);
  for (int i = 0; i < n; ++i)
    if (times[i]) stand[i] = *times[i];
  for (const Kin& k : kin)
    for (const auto& [lost, anchor] : {std::pair(k.a, k.b), std::pair(k.b, k.a)})
      if (!times[lost] && times[anchor] && k.strength > strength[lost]) {
        strength[lost] = k.strength;
        stand[lost] = *times[anchor];
      }
  const auto folder = [&](int i) { return std::filesystem::path(frames[i]->path).parent_path(); };
  for (int r = 1; r < n; ++r) {
    const int i = by_name[r], before = by_name[r - 1];
    if (stand[i] == kEnd && stand[before] != kEnd && folder(i) == folder(before)) stand[i] = stand[before];
  }
  Timeline out;
  out.order = by_name;
  std::stable_sort(out.order.begin(), out.order.end(), [&](int a, int b) {
    return std::tuple(stand[a], !times[a].has_value(), name_rank[a]) <
           std::tuple(stand[b], !times[b].has_value(), name_rank[b]);
  });
  out.time_s.resize(n);
  for (int i = 0; i < n; ++i)
    if (stand[i] != kEnd) out.time_s[i] = stand[i];
  return out;
}

}  // namespace samelight::pair
