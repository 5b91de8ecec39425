#include "bench/truth.h"

#include <algorithm>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <tuple>

#include "base/file.h"

namespace samelight::bench {

bool Truth::Filmed(int light) const {
  return std::any_of(scans.begin(), scans.end(), [light](const TrueScan& s) { return s.light == light; });
}

Result<Truth> ReadTruth(const fs::path& folder) {
  const fs::path file = folder / "truth/truth.json";
  Result<std::vector<std::uint8_t>> bytes = ReadFile(file, 256 << 20);
  if (!bytes.ok()) return bytes.error();
  using nlohmann::json;
  try {
    const json all = json::parse(bytes->begin(), bytes->end());
    Truth truth;
    truth.folder = folder;
    truth.seed = all.at("seed").get<std::uint64_t>();
    for (const json& l : all.at("lights"))
      truth.lights.push_back({l.at("name"), l.at("stock"), l.at("filmed"), l.at("digital")});
    for (const json& f : all.at("frames")) {
      TrueFrame frame;
      frame.file = f.at("frame");
      frame.truth = folder / f.at("truth").get<std::string>();
      if (f.contains("skin")) frame.skin = folder / f.at("skin").get<std::string>();
      frame.light = f.at("light");
      frame.moment = f.at("moment");
      frame.jpeg = f.at("source").get<std::string>().ends_with(" jpeg");
      truth.frames.push_back(std::move(frame));
    }
    for (const json& s : all.at("scans")) {
      TrueScan scan;
      scan.file = s.at("scan");
      scan.truth = folder / s.at("truth").get<std::string>();
      scan.light = s.at("light");
      scan.moment = s.at("moment");
      scan.mirrored = s.at("mirrored");
      scan.nudge_de = s.at("nudge_de");
      scan.moment_frames = s.at("moment_frames").get<std::vector<std::string>>();
      scan.light_frames = s.at("light_frames").get<std::vector<std::string>>();
      truth.scans.push_back(std::move(scan));
    }
    return truth;
  } catch (const json::exception& e) {
    return Error{ErrorCode::kDamaged, std::string("the truth could not be read: ") + e.what(), file.string(),
                 "write the demo session again"};
  }
}

int GivenScan(const Truth& truth, const std::vector<bool>& usable, int frame) {
  const TrueFrame& f = truth.frames[frame];
  int best = -1;
  std::tuple<int, int, int> best_rank{};
  for (std::size_t i = 0; i < truth.scans.size(); ++i) {
    const TrueScan& s = truth.scans[i];
    if (!usable[i]) continue;
    const bool same_moment =
        std::find(s.moment_frames.begin(), s.moment_frames.end(), f.file) != s.moment_frames.end();
    // When a light that only film saw was, nobody knows: it comes last.
    const bool placed = truth.lights[s.light].digital;
    const std::tuple<int, int, int> rank{same_moment ? 0 : 1, placed ? std::abs(s.light - f.light) : 1 << 20,
                                         std::abs(s.moment - f.moment)};
    if (best >= 0 && !(rank < best_rank)) continue;
    best = static_cast<int>(i);
    best_rank = rank;
  }
  return best;
}

}  // namespace samelight::bench
