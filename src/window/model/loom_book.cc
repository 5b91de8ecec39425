#include "window/model/loom_book.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>

#include "window/model/hand.h"

namespace samelight::window {
namespace {

constexpr std::int64_t kUsPerDay = 86'400'000'000;

double Aspect(const record::Photo& photo) {
  if (photo.width_px <= 0 || photo.height_px <= 0) return 1.5;
  return std::clamp(static_cast<double>(photo.width_px) / photo.height_px, 0.4, 2.5);
}

// Largest left-over in units of its mark; what has no mark counts against the session's tolerance.
double Worst(const job::FrameRow& row, double tolerance) { return row.worst / tolerance; }

}  // namespace

std::string WarmthText(double mired) {
  if (!(mired > 0)) return {};
  return fmt::format("{:.0f} K", std::round(1e6 / mired / 50) * 50);
}

std::string ClockText(std::int64_t time_us) {
  if (time_us == INT64_MAX) return {};
  const std::int64_t s = ((time_us % kUsPerDay + kUsPerDay) % kUsPerDay) / 1'000'000;
  return fmt::format("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
}

std::string WhenText(std::int64_t first_us, std::int64_t last_us) {
  if (first_us == INT64_MAX || last_us == INT64_MAX) return {};
  return fmt::format("{} to {}", ClockText(first_us).substr(0, 5), ClockText(last_us).substr(0, 5));
}

Loom LoomOfBook(const job::Book& book) {
  Loom loom;
  for (const record::Roll& roll : book.rolls) loom.rolls.push_back(roll.name);
  if (loom.rolls.empty()) loom.rolls.emplace_back();
  const int none = static_cast<int>(book.lights.size());
  const auto light_of = [&](int light) { return light < 0 ? none : light; };

  // Loose scans lie beside their neighbours on the roll.
  std::vector<int> scan_light(book.scans.size());
  for (std::size_t i = 0; i < book.scans.size(); ++i) {
    scan_light[i] = book.scans[i].light;
    if (scan_light[i] < 0 && i > 0 && book.scans[i - 1].roll == book.scans[i].roll)
      scan_light[i] = scan_light[i - 1];
  }
  for (std::size_t i = book.scans.size(); i-- > 0;)
    if (scan_light[i] < 0 && i + 1 < book.scans.size() && book.scans[i + 1].roll == book.scans[i].roll)
      scan_light[i] = scan_light[i + 1];

  std::vector<std::vector<const job::FrameRow*>> frames_of(none + 1);
  std::vector<std::vector<const job::ScanRow*>> scans_of(none + 1);
  for (const job::FrameRow& row : book.frames) frames_of[light_of(row.light)].push_back(&row);
  for (std::size_t i = 0; i < book.scans.size(); ++i)
    scans_of[light_of(scan_light[i])].push_back(&book.scans[i]);

  std::unordered_map<PhotoId, int> scan_at, frame_at;
  for (int l = 0; l <= none; ++l) {
    LoomLight light;
    light.first_frame = static_cast<int>(loom.frames.size());
    light.first_scan = static_cast<int>(loom.scans.size());
    std::int64_t first = INT64_MAX, last = INT64_MAX;
    for (const job::FrameRow* of_light : frames_of[l]) {
      const job::FrameRow& row = *of_light;
      LoomFrame frame;
      frame.id = row.photo.id;
      frame.light = static_cast<int>(loom.lights.size());
      frame.label = row.name;
      frame.aspect = Aspect(row.photo);
      frame.compared = !row.solution.left_over.empty();
      frame.left_over = Worst(row, book.tolerance);
      frame.to_check = row.state == job::FrameState::kToCheck;
      frame_at[frame.id] = static_cast<int>(loom.frames.size());
      loom.frames.push_back(frame);
      if (first == INT64_MAX) first = row.time_us;
      if (row.time_us != INT64_MAX) last = row.time_us;
    }
    for (const job::ScanRow* of_light : scans_of[l]) {
      const job::ScanRow& row = *of_light;
      LoomScan scan;
      scan.id = row.photo.id;
      scan.light = static_cast<int>(loom.lights.size());
      scan.roll = std::max(0, row.roll);
      scan.label = row.photo.roll_position >= 0 ? std::to_string(row.photo.roll_position + 1) : row.name;
      scan.aspect = Aspect(row.photo);
      scan.undecided = record::IsUndecided(row.pair);
      scan_at[scan.id] = static_cast<int>(loom.scans.size());
      loom.scans.push_back(scan);
    }
    light.frames = static_cast<int>(loom.frames.size()) - light.first_frame;
    light.scans = static_cast<int>(loom.scans.size()) - light.first_scan;
    if (light.frames + light.scans == 0 && l == none) continue;
    if (l < none) {
      light.name = book.lights[l].name;
      light.mired = book.lights[l].mired;
      light.warmth = WarmthText(light.mired);
      light.when = WhenText(first, last);
      light.coloured_lamps = book.lights[l].narrow_band;
    } else {
      light.name = "no light yet";
    }
    loom.lights.push_back(light);
  }
  if (book.frames.empty()) loom.no_frames = "no frames yet";
  if (book.scans.empty()) {
    loom.no_scans = "no scans yet";
    for (const job::FrameRow& row : book.frames)
      if (row.solved && !row.solution.look.empty()) {
        loom.no_scans = "following the look of " + row.solution.look;
        break;
      }
  }
  for (const job::ScanRow& row : book.scans) {
    if (row.pair.kind == record::PairKind::kNone) continue;
    const auto scan = scan_at.find(row.photo.id);
    const auto frame = frame_at.find(row.pair.frame);
    if (scan != scan_at.end() && frame != frame_at.end())
      loom.ribbons.push_back({scan->second, frame->second, row.pair.confidence, row.pair.by_person});
  }
  for (LoomFrame& frame : loom.frames) {
    const PhotoId scan = FollowedScan(book, book.FrameIndex(frame.id));
    const auto at = scan_at.find(scan);
    // A thread that leaves its light would only tangle.
    if (at != scan_at.end() && loom.scans[at->second].light == frame.light) frame.follows = at->second;
  }
  return loom;
}

}  // namespace samelight::window
