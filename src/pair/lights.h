// Runs of frames in one lighting situation.
#pragma once

#include <optional>
#include <utility>
#include <vector>

namespace samelight::pair {

// What the segmentation knows of one frame.
struct Moment {
  std::optional<double> time_s;  // on the session's clock
  double mired = 0, duv = 0;     // white of the light as the camera or the picture tells it
  double white_trust = 0;        // 0..1: 1 for a raw frame's as-shot white
  std::optional<double>
      brightness_ev;  // of the scene: picture level less exposure; absent without exposure data
  bool flash = false;
};

// Two moments (indices) whose pictures show the same things.
using Link = std::pair<int, int>;

// Label of the light of each moment, numbered by first appearance. `moments` are in time order. `starts`:
// indices at which a person said that a new light begins.
//
// Segments by dynamic programming over the order: each segment has one white and one brightness (robust cost
// of the deviations), each costs as much as three parameters by the Bayesian information criterion, and a cut
// is cheaper where the pause is long against the session's own pauses and where no link crosses it. Frames
// with flash are segmented by themselves. Segments alike in white, brightness and place (a link) and not far
// apart in time are one light: people go back and forth. One odd frame does not open a light.
std::vector<int> SegmentLights(const std::vector<Moment>& moments, const std::vector<Link>& links,
                               const std::vector<int>& starts);

}  // namespace samelight::pair
