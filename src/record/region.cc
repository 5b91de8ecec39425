#include "record/region.h"

namespace samelight::record {

const char* Name(RegionKind kind) {
  switch (kind) {
    case RegionKind::kSkin: return "skin";
    case RegionKind::kFoliage: return "foliage";
    case RegionKind::kSky: return "sky";
    case RegionKind::kWhiteCloth: return "white cloth";
    case RegionKind::kDarkCloth: return "dark cloth";
    case RegionKind::kNeutral: return "neutrals";
    case RegionKind::kShadow: return "shadows";
    case RegionKind::kHighlight: return "highlights";
    case RegionKind::kOther: return "other";
    case RegionKind::kMasked: return "masked";
  }
  return "other";
}

const char* Name(Side side) {
  switch (side) {
    case Side::kLit: return "lit side";
    case Side::kShaded: return "shaded side";
    case Side::kWhole: break;
  }
  return "";
}

}  // namespace samelight::record
