// Runs of frames in one lighting situation.
#pragma once

#include <cmath>
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
  // Light on the subject against the light behind it, EV: below 0 it is lit from behind. Absent without a
  // face.
  std::optional<double> backlight_ev;
  std::optional<bool> flash;  // absent: the file does not say
  // How much warmer what is dark is than what is bright, log2 of red over blue. Absent without regions.
  std::optional<double> shadow_warmth;
};

// Whites are heard from here on (Moment::white_trust).
inline constexpr double kTrustedWhite = 0.3;
// At most `pause_s` apart, as far as their times are known.
inline bool Near(const Moment& a, const Moment& b, double pause_s) {
  return !a.time_s || !b.time_s || std::abs(*a.time_s - *b.time_s) <= pause_s;
}

// Two moments (indices) whose pictures show the same things.
using Link = std::pair<int, int>;

// Label of the light of each moment, numbered by first appearance. `moments` are in time order. `starts`:
// indices at which a person said that a new light begins.
//
// Segments by dynamic programming over the order: each segment has one white, one brightness and one
// direction (robust cost of the deviations), each costs as much as its parameters by the Bayesian information
// criterion; frames that show the same things tell their level but once (own_word.h), and a cut has the odds
// that its pause and the links over it give (cuts.h), or that the same things seen in another light give
// (relight.h). Where nothing but those odds speaks for a cut it is made when it is three times likelier than
// none. Frames with flash are segmented by themselves. Segments alike in white, brightness, direction and
// place (links) and not far apart in time are one light: people go back and forth. One odd frame does not
// open a light.
// `guessed`, if not null: the moments that are taken for flash although no file says so (flash.h).
std::vector<int> SegmentLights(const std::vector<Moment>& moments, const std::vector<Link>& links,
                               const std::vector<int>& starts, std::vector<bool>* guessed = nullptr);

}  // namespace samelight::pair
