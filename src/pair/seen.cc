#include "pair/seen.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <set>

#include "pair/clock.h"

namespace samelight::pair {
namespace {

constexpr double kBurst_s = 3;  // from one frame to the next (common practice)
constexpr double kSoft = 0.6;   // sharpness against the sharpest of the burst; a blur of 2 px at 2048 px
constexpr double kBurnt = 0.15, kBlack = 0.35;  // share of the picture that makes an exposure a fault

std::string NameOf(const Item& item) { return std::filesystem::path(item.photo->path).filename().string(); }

void OfOnePicture(const Item& item, std::vector<record::Note>& out) {
  const record::Measured& m = item.facts->measured;
  if (!m.note.empty()) out.push_back({item.photo->id, m.note});
  if (m.note.empty() && m.clipped_high > kBurnt)
    out.push_back(
        {item.photo->id, fmt::format("{:.0f} % of the picture is clipped white", 100 * m.clipped_high)});
  if (m.note.empty() && m.clipped_low > kBlack)
    out.push_back(
        {item.photo->id, fmt::format("{:.0f} % of the picture is clipped black", 100 * m.clipped_low)});
}

}  // namespace

std::vector<std::vector<int>> Bursts(const Request& request, const Digital& digital) {
  std::set<std::pair<int, int>> linked;
  for (const FrameLink& l : digital.links) linked.emplace(l.a, l.b);
  std::vector<std::vector<int>> out;
  std::map<std::string, std::vector<int>> open;  // per body
  const auto close = [&](std::vector<int>& burst) {
    if (burst.size() > 1) out.push_back(burst);
    burst.clear();
  };
  for (int f : digital.timeline.order) {
    std::vector<int>& burst = open[BodyName(*request.frames[f].photo)];
    if (!burst.empty()) {
      const auto &before = digital.timeline.time_s[burst.back()], &now = digital.timeline.time_s[f];
      // Raw and JPEG of one exposure are two files of one picture, no burst.
      const bool goes_on = request.frames[burst.back()].photo->capture.time_us &&
                           request.frames[f].photo->capture.time_us && before && now &&
                           *now - *before <= kBurst_s && linked.count(std::minmax(burst.back(), f));
      if (!goes_on) close(burst);
    }
    burst.push_back(f);
  }
  for (auto& [body, burst] : open) close(burst);
  std::sort(out.begin(), out.end());
  return out;
}

std::vector<record::Note> SeenOnTheWay(const Request& request, const Digital& digital) {
  std::vector<std::vector<record::Note>> of_frame(request.frames.size());
  for (const std::vector<int>& burst : Bursts(request, digital)) {
    const auto sharpness = [&](int f) { return request.frames[f].facts->measured.sharpness; };
    const int best = *std::max_element(burst.begin(), burst.end(),
                                       [&](int a, int b) { return sharpness(a) < sharpness(b); });
    for (int f : burst) {
      const PhotoId id = request.frames[f].photo->id;
      std::string text = f == best ? fmt::format("the sharpest of {} of one moment", burst.size())
                                   : fmt::format("one of {} of one moment; the sharpest is {}", burst.size(),
                                                 NameOf(request.frames[best]));
      if (sharpness(f) < kSoft * sharpness(best)) text += "; this one is much less sharp";
      of_frame[f].push_back({id, std::move(text)});
    }
  }
  std::vector<record::Note> out;
  for (const Item& scan : request.scans) OfOnePicture(scan, out);
  for (std::size_t f = 0; f < request.frames.size(); ++f) {
    OfOnePicture(request.frames[f], out);
    for (record::Note& note : of_frame[f]) out.push_back(std::move(note));
  }
  return out;
}

}  // namespace samelight::pair
