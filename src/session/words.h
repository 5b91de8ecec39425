// What a person said about a session. Words outrank what the program finds, survive every re-run, and can be
// taken back.
#pragma once

#include <map>
#include <set>
#include <string>
#include <unordered_map>
#include <utility>
#include <variant>
#include <vector>

#include "base/ids.h"
#include "record/correction.h"
#include "record/order.h"

namespace samelight::session {

// These two show the same moment.
struct Join {
  PhotoId scan, frame;
};
// These two do not belong together.
struct Refuse {
  PhotoId scan, frame;
};
// Keep the pair, keep the scan out of the look; or let it in, whatever the program holds of its light.
struct Bar {
  PhotoId scan;
  bool barred = true;
};
// A fact about a roll: key "name", "stock", "lab", "format", "rating" (ISO), "push" (EV), "scan-day" (ISO
// 8601), "black-and-white" and "expired" ("yes"/"no"), "split:<id of a scan>" or "join:<id of a roll>"
// ("yes").
struct RollFact {
  RollId roll;
  std::string key, value;
};
// A new light begins at this frame.
struct LightStart {
  PhotoId frame;
};
// These frames were taken in one light.
struct LightTogether {
  std::vector<PhotoId> frames;
};
// The light that holds this frame is called so.
struct LightName {
  PhotoId frame;
  std::string name;
};
// Added to the clock of a body, seconds.
struct ClockOffset {
  std::string body;
  double offset_s = 0;
};
// How far to follow the film; no frames: all of them. `skin`: for skin hues only.
struct Follow {
  std::vector<PhotoId> frames;
  bool skin = false;
  double percent = 100;
  // kFoliage or kSky: for that region's colours only; then a negative percent is "with the whole" again.
  record::RegionKind region = record::RegionKind::kOther;
};
// The editor's own last change to a frame, as a whole (not added to an earlier touch).
struct Touch {
  PhotoId frame;
  record::Handles handles;
};
// A setting of this session (base/setting.h gives names, units and ranges).
struct Set {
  std::string setting;
  double value = 0;
};
// How a frame is framed; `as_taken`: as its file says, after all.
struct Frame {
  PhotoId frame;
  bool as_taken = false;
  record::Framing framing;
};
// An order is kept under its name, or no longer.
struct KeepOrder {
  record::Order order;
  bool dropped = false;
};
// What an order delivered was approved: each picture with the digest of what decides its file.
struct Approve {
  std::string order;
  std::vector<PhotoId> pictures;
  std::vector<std::string> digests;  // as many
};
// What earlier sessions taught of the film, believed before this one is seen: the whole text of a look file,
// so that nothing that happens to the file later changes this session. Both empty: what is built in.
struct TakeLook {
  std::string name, text;
};

// A person looked at this frame and is content (or not any more).
struct Settle {
  PhotoId frame;
  bool settled = true;
};
// A frame's touch and follow under a name, to be compared or taken up again.
struct KeptState {
  std::string name;
  record::Handles touch;
  double follow = 100, follow_skin = 100;       // percent
  double follow_foliage = -1, follow_sky = -1;  // percent; negative: with the whole
};
// Keeps a state (replacing one of the same name), or drops it.
struct KeepState {
  PhotoId frame;
  KeptState state;
  bool keep = true;
};

// New kinds of words go to the end: a stored word is told by its place here.
using Word = std::variant<Join, Refuse, Bar, RollFact, LightStart, LightTogether, LightName, ClockOffset,
                          Follow, Touch, Set, Settle, KeepState, Frame, KeepOrder, Approve, TakeLook>;

// What stands after all words in their order: later words replace earlier ones about the same thing.
struct Standing {
  std::map<PhotoId, PhotoId> joined;  // scan to frame
  std::set<std::pair<PhotoId, PhotoId>> refused;
  std::set<PhotoId> barred;
  std::set<PhotoId> let_in;  // said to be good for the look
  std::map<std::pair<RollId, std::string>, std::string> roll_facts;
  std::set<PhotoId> light_starts;
  std::vector<std::vector<PhotoId>> together;
  std::map<PhotoId, std::string> light_names;
  std::map<std::string, double> clock_offset_s;
  std::unordered_map<PhotoId, double> follow;  // percent; absent: the setting "follow"
  std::unordered_map<PhotoId, double> follow_skin;
  double follow_skin_all = 100;
  struct Region {
    double all = -1;  // percent; negative: with the whole
    std::unordered_map<PhotoId, double> frames;
  };
  std::map<record::RegionKind, Region> follow_region;  // kFoliage and kSky
  std::unordered_map<PhotoId, record::Handles> touch;
  std::unordered_map<PhotoId, std::vector<KeptState>> states;  // in the order in which they were kept
  std::unordered_map<PhotoId, bool> settled;
  std::map<std::string, double> settings;  // only those that were set
  std::unordered_map<PhotoId, record::Framing> framing;
  std::map<std::string, record::Order> orders;
  std::map<std::string, std::unordered_map<PhotoId, std::string>> approved;  // order to picture to digest
  TakeLook look;
};
Standing Fold(const std::vector<Word>& words);
// One more word on top of what stands.
void Add(Standing& standing, const Word& word);

// How far `frame` follows the film, percent: its own, else the session's. Skin never follows further than the
// rest.
double FollowOf(const Standing& standing, PhotoId frame);
double FollowSkinOf(const Standing& standing, PhotoId frame);
// The same of foliage or sky; negative: with the whole.
double FollowRegionOf(const Standing& standing, PhotoId frame, record::RegionKind region);
// All of it, as a share (0..1), in a correction.
void PutFollow(const Standing& standing, PhotoId frame, record::Correction& correction);

// The value of setting `name` (a name of base/setting.h) in this session: as set, else the usual one.
double SettingOf(const Standing& standing, const std::string& name);

}  // namespace samelight::session
