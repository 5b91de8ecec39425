#include "record/flag.h"

namespace samelight::record {

const char* Name(FlagKind kind) {
  switch (kind) {
    case FlagKind::kLeftOver:
      return "left-over";
    case FlagKind::kMixedLight:
      return "mixed-light";
    case FlagKind::kDoubtfulPair:
      return "doubtful-pair";
    case FlagKind::kLightOnly:
      return "light-only";
    case FlagKind::kNoFilm:
      return "no-film";
    case FlagKind::kLikeRegions:
      return "like-regions";
    case FlagKind::kClipped:
      return "clipped";
    case FlagKind::kTouchClips:
      return "touch-clips";
    case FlagKind::kSkinApart:
      return "skin-apart";
    case FlagKind::kByHand:
      return "by-hand";
    case FlagKind::kUnsure:
      return "unsure";
    case FlagKind::kOther:
      break;
  }
  return "other";
}

}  // namespace samelight::record
