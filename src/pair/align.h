// A roll against the timeline of frames.
#pragma once

#include <vector>

namespace samelight::pair {

// For each scan of a roll (in file order) and each frame (in time order): natural logarithm of the likelihood
// ratio "they show the same moment" against "they do not", from the pictures alone. 0: nothing known.
using LogRatios = std::vector<std::vector<double>>;

struct Alignment {
  bool reversed = false;  // the files run against time
  double in_order = 1;    // probability that the roll has any order,
  double untouched = 1;   // and that it is as it left the camera, with hardly a file out of place
  // Per scan and frame: probability that the scan shows that frame's moment. A row may sum to less than 1.
  std::vector<std::vector<double>> match;
  std::vector<std::vector<double>> alone;  // the same if the roll had no order
};

// A hidden Markov model over the roll: the hidden place moves on along the timeline, by steps that follow the
// roll's own pace; it may stand still, and at a price it may jump anywhere (pauses), or a scan may lie out of
// order. At its place a scan either shows a frame's moment or no frame's (abstain). Forward-backward in both
// directions and for several degrees of order, from rolls as they left the camera to shuffled ones; all are
// blended by their likelihoods (Bayesian model averaging, Hoeting et al. 1999), so that a roll whose sure
// scans run in order binds its doubtful ones and a shuffled one does not. Cost: scans x frames^2.
Alignment AlignRoll(const LogRatios& ratios);

}  // namespace samelight::pair
