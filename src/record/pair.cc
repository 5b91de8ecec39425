#include "record/pair.h"

namespace samelight::record {

const char* Name(PairKind kind) {
  switch (kind) {
    case PairKind::kMoment:
      return "moment";
    case PairKind::kLight:
      return "light";
    case PairKind::kNone:
      return "none";
  }
  return "none";
}

bool IsUndecided(const Pair& pair) {
  return pair.kind == PairKind::kNone && !pair.by_person && pair.confidence < 0.5 &&
         !pair.alternatives.empty();
}

}  // namespace samelight::record
