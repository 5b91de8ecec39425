#include "bench/earlier.h"

#include <map>

#include "solve/earlier.h"

namespace samelight::bench {

Result<std::vector<solve::Solution::Taught>> LessonsOf(const std::vector<fs::path>& sessions) {
  std::vector<solve::Solution::Taught> all;
  for (const fs::path& file : sessions) {
    Result<StoredSession> stored = ReadSession(file);
    if (!stored.ok()) return stored.error();
    for (record::Roll& roll : stored->request.rolls)
      for (const PhotoId scan : roll.scans)
        if (const auto at = stored->scan_at.find(scan); at != stored->scan_at.end())
          roll.stock = stored->truth.lights[stored->truth.scans[at->second].light].stock;
    SilentProgress silent;
    Result<solve::Solution> solution = solve::SolveSession(stored->request, silent, {});
    if (!solution.ok()) return solution.error();
    for (solve::Solution::Taught& taught : solution->taught) {
      taught.lesson.session = file.string();
      all.push_back(std::move(taught));
    }
  }
  return all;
}

std::optional<record::LearnedLook> LookFor(const Truth& truth,
                                           const std::vector<solve::Solution::Taught>& lessons) {
  std::map<std::string, int> count;
  for (const TrueLight& light : truth.lights) count[light.stock] += light.digital ? 1 : 0;
  std::string stock;
  for (const auto& [name, n] : count)
    if (n > count[stock]) stock = name;
  std::vector<record::Lesson> of;
  for (const solve::Solution::Taught& taught : lessons)
    if (taught.stock == stock) of.push_back(taught.lesson);
  if (of.empty()) return std::nullopt;
  record::LearnedLook look = solve::Merge(std::move(of));
  look.name = look.stock = stock;
  return look;
}

}  // namespace samelight::bench
