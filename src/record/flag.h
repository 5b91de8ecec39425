// Reasons to look at a frame.
#pragma once

#include <compare>
#include <cstdint>
#include <string>
#include <vector>

namespace samelight::record {

// The value is what a session file holds; new kinds are added at the end.
enum class FlagKind : std::uint8_t {
  kOther = 0,        // of a session that an earlier version solved, which kept words alone
  kLeftOver = 1,     // a left-over above the tolerance
  kMixedLight = 2,   // one correction does not fit all of the subject
  kDoubtfulPair = 3,
  kLightOnly = 4,    // its scan shows something else
  kNoFilm = 5,       // of its light
  kLikeRegions = 6,  // its light's film shows other things
  kClipped = 7,      // the file itself
  kTouchClips = 8,   // clipped by the editor's own last change
  kSkinApart = 9,    // from the skin of the rest of its light
  kByHand = 10,      // put back to be checked by a person
  kUnsure = 11,      // its exposure or colour: nothing ties it to its neighbours
};
inline constexpr FlagKind kLastFlagKind = FlagKind::kUnsure;
const char* Name(FlagKind kind);  // "left-over", "mixed-light", ...

struct Flag {
  FlagKind kind = FlagKind::kOther;
  std::string text;   // for a person: "skin is redder than in its scan by 3.3"
  std::string brief;  // what it shares with its like: "skin is redder"; empty: the text
  auto operator<=>(const Flag&) const = default;
};

}  // namespace samelight::record
