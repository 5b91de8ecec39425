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

}  // namespace samelight::record
