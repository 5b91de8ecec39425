#include "job/running_order.h"

#include <algorithm>
#include <map>
#include <tuple>
#include <unordered_map>

namespace samelight::job {

using record::Photo;

std::optional<std::int64_t> SessionTime(const Photo& photo, const std::vector<session::Clock>& clocks) {
  if (!photo.capture.time_us) return std::nullopt;
  const std::string body = record::BodyName(photo);
  for (const session::Clock& clock : clocks)
    if (clock.body == body) return *photo.capture.time_us + static_cast<std::int64_t>(clock.offset_s * 1e6);
  return *photo.capture.time_us;
}

std::vector<const Photo*> RunningOrder(const std::vector<Photo>& photos,
                                       const std::vector<session::Clock>& clocks,
                                       const std::vector<record::Pair>& pairs) {
  std::vector<const Photo*> frames;
  std::map<RollId, std::vector<const Photo*>> rolls;
  std::unordered_map<PhotoId, std::int64_t> time;
  for (const Photo& photo : photos) {
    time[photo.id] = SessionTime(photo, clocks).value_or(INT64_MAX);
    if (photo.role == record::Role::kFrame)
      frames.push_back(&photo);
    else
      rolls[photo.roll].push_back(&photo);
  }
  std::stable_sort(frames.begin(), frames.end(),
                   [&](const Photo* a, const Photo* b) { return time[a->id] < time[b->id]; });
  std::unordered_map<PhotoId, long> place;
  for (std::size_t i = 0; i < frames.size(); ++i) place[frames[i]->id] = static_cast<long>(i);
  std::unordered_map<PhotoId, PhotoId> frame_of;
  for (const record::Pair& pair : pairs)
    if (pair.kind != record::PairKind::kNone && pair.frame.valid()) frame_of[pair.scan] = pair.frame;

  struct Entry {
    long after;  // the frame that it stands behind; the frame itself comes first
    int rank;
    RollId roll;
    int position;
    const Photo* photo;
  };
  std::vector<Entry> entries;
  for (const Photo* frame : frames) entries.push_back({place[frame->id], 0, {}, 0, frame});
  for (auto& [id, scans] : rolls) {
    std::stable_sort(scans.begin(), scans.end(),
                     [](const Photo* a, const Photo* b) { return a->roll_position < b->roll_position; });
    std::vector<std::optional<long>> after(scans.size());
    for (std::size_t i = 0; i < scans.size(); ++i) {
      const auto frame = frame_of.find(scans[i]->id);
      if (frame == frame_of.end()) continue;
      const auto at = place.find(frame->second);
      if (at != place.end()) after[i] = at->second;
    }
    for (std::size_t i = 1; i < scans.size(); ++i)
      if (!after[i]) after[i] = after[i - 1];
    for (std::size_t i = scans.size(); i-- > 1;)
      if (!after[i - 1]) after[i - 1] = after[i];
    for (std::size_t i = 0; i < scans.size(); ++i)
      entries.push_back(
          {after[i].value_or(static_cast<long>(frames.size())), 1, id, static_cast<int>(i), scans[i]});
  }
  std::stable_sort(entries.begin(), entries.end(), [](const Entry& a, const Entry& b) {
    return std::tie(a.after, a.rank, a.roll, a.position) < std::tie(b.after, b.rank, b.roll, b.position);
  });
  std::vector<const Photo*> order;
  for (const Entry& entry : entries) order.push_back(entry.photo);
  return order;
}

}  // namespace samelight::job
