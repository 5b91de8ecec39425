// Dense correspondences for all pairs of pictures that were verified.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "base/result.h"
#include "measure/cache.h"
#include "pair/kept.h"
#include "pair/verify.h"
#include "record/pair.h"

namespace samelight::pair {

struct CellJob {
  PhotoId a, b;
  std::string a_hash, b_hash;                                  // as in View
  float a_width = 0, a_height = 0, b_width = 0, b_height = 0;  // as in View
  Verified verified;
  int most_cells = 0;
  bool a_is_scan = false;
};

// One correspondence per job, in their order; without cells where a picture could not be loaded. Pictures are
// loaded once as long as their jobs lie near each other in the list; memory is bounded by kHeldPictures
// prepared pictures. `what` names the work to whoever watches `progress`.
inline constexpr int kHeldPictures = 96;
std::vector<record::Correspondence> Correspond(const std::string& what, const std::vector<CellJob>& jobs,
                                               const std::function<Result<measure::Cached>(PhotoId)>& load,
                                               Kept& kept, Progress& progress, const Cancel& cancel);

}  // namespace samelight::pair
