#include "session/words.h"

#include <algorithm>

#include "base/setting.h"

namespace samelight::session {
namespace {

struct Folder {
  Standing& now;

  void operator()(const Join& w) {
    now.joined[w.scan] = w.frame;
    now.refused.erase({w.scan, w.frame});
  }
  void operator()(const Refuse& w) {
    const auto it = now.joined.find(w.scan);
    if (it != now.joined.end() && it->second == w.frame) now.joined.erase(it);
    now.refused.insert({w.scan, w.frame});
  }
  void operator()(const Bar& w) {
    (w.barred ? now.barred : now.let_in).insert(w.scan);
    (w.barred ? now.let_in : now.barred).erase(w.scan);
  }
  void operator()(const RollFact& w) { now.roll_facts[{w.roll, w.key}] = w.value; }
  void operator()(const LightStart& w) {
    now.light_starts.insert(w.frame);
    // A split wins over an earlier joining of the same frames: the group is cut before this frame.
    std::vector<std::vector<PhotoId>> groups;
    for (const std::vector<PhotoId>& group : now.together) {
      const auto cut = std::find(group.begin(), group.end(), w.frame);
      if (cut - group.begin() > 1) groups.emplace_back(group.begin(), cut);
      if (group.end() - cut > 1) groups.emplace_back(cut, group.end());
    }
    now.together = std::move(groups);
  }
  void operator()(const LightTogether& w) {
    for (std::size_t i = 1; i < w.frames.size(); ++i) now.light_starts.erase(w.frames[i]);
    now.together.push_back(w.frames);
  }
  void operator()(const LightName& w) { now.light_names[w.frame] = w.name; }
  void operator()(const ClockOffset& w) { now.clock_offset_s[w.body] = w.offset_s; }
  void operator()(const Follow& w) {
    if (w.region != record::RegionKind::kOther) {
      Standing::Region& region = now.follow_region[w.region];
      if (w.frames.empty()) region.all = w.percent;
      for (const PhotoId frame : w.frames) region.frames[frame] = w.percent;
      return;
    }
    if (w.frames.empty()) {
      if (w.skin)
        now.follow_skin_all = w.percent;
      else
        now.settings["follow"] = w.percent;
    }
    for (const PhotoId frame : w.frames) (w.skin ? now.follow_skin : now.follow)[frame] = w.percent;
  }
  void operator()(const Touch& w) { now.touch[w.frame] = w.handles; }
  void operator()(const Set& w) { now.settings[w.setting] = w.value; }
  void operator()(const TakeLook& w) { now.look = w; }
  void operator()(const Settle& w) { now.settled[w.frame] = w.settled; }
  void operator()(const KeepState& w) {
    std::vector<KeptState>& states = now.states[w.frame];
    std::erase_if(states, [&](const KeptState& s) { return s.name == w.state.name; });
    if (w.keep) states.push_back(w.state);
  }
  void operator()(const Frame& w) {
    if (w.as_taken)
      now.framing.erase(w.frame);
    else
      now.framing[w.frame] = w.framing;
  }
  void operator()(const KeepOrder& w) {
    if (w.dropped)
      now.orders.erase(w.order.name);
    else
      now.orders[w.order.name] = w.order;
  }
  void operator()(const Approve& w) {
    auto& approved = now.approved[w.order];
    approved.clear();
    for (std::size_t i = 0; i < std::min(w.pictures.size(), w.digests.size()); ++i)
      approved[w.pictures[i]] = w.digests[i];
  }
};

}  // namespace

Standing Fold(const std::vector<Word>& words) {
  Standing standing;
  for (const Word& word : words) Add(standing, word);
  return standing;
}

void Add(Standing& standing, const Word& word) { std::visit(Folder{standing}, word); }

double FollowOf(const Standing& standing, PhotoId frame) {
  const auto it = standing.follow.find(frame);
  return it != standing.follow.end() ? it->second : SettingOf(standing, "follow");
}

double FollowSkinOf(const Standing& standing, PhotoId frame) {
  const auto it = standing.follow_skin.find(frame);
  return it != standing.follow_skin.end() ? it->second
                                          : std::min(FollowOf(standing, frame), standing.follow_skin_all);
}

double FollowRegionOf(const Standing& standing, PhotoId frame, record::RegionKind region) {
  const auto it = standing.follow_region.find(region);
  if (it == standing.follow_region.end()) return -1;
  const auto own = it->second.frames.find(frame);
  return own != it->second.frames.end() ? own->second : it->second.all;
}

void PutFollow(const Standing& standing, PhotoId frame, record::Correction& correction) {
  const auto share = [](double percent) { return percent < 0 ? -1 : percent / 100; };
  correction.follow = FollowOf(standing, frame) / 100;
  correction.follow_skin = FollowSkinOf(standing, frame) / 100;
  correction.follow_foliage = share(FollowRegionOf(standing, frame, record::RegionKind::kFoliage));
  correction.follow_sky = share(FollowRegionOf(standing, frame, record::RegionKind::kSky));
}

double SettingOf(const Standing& standing, const std::string& name) {
  const auto it = standing.settings.find(name);
  if (it != standing.settings.end()) return it->second;
  const Setting* setting = FindSetting(name);
  return setting == nullptr ? 0 : setting->usual;
}

}  // namespace samelight::session
