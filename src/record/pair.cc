#include "record/pair.h"

namespace samelight::record {

const char* Name(PairKind kind) {
  switch (kind) {
    case PairKind::kMoment: return "moment";
    case PairKind::kLight: return "light";
    case PairKind::kNone: return "none";
  }
  return "none";
}

}  // namespace samelight::record
