// How likely a light ends after each frame, before the colour of the light is looked at.
#pragma once

#include <optional>
#include <vector>

#include "pair/lights.h"

namespace samelight::pair {

// What changes between the frames of a session, from frame i to frame i + 1.
struct Step {
  std::optional<double> pause_s;
  int crossing = 0;  // links between a frame up to i and one from i + 1 on, few frames and minutes apart
};

// Those links whose moments are so near that they tell about the steps between them (few frames and minutes
// apart; a place may be visited again), the earlier moment first.
std::vector<Link> NearLinks(const std::vector<Moment>& moments, const std::vector<Link>& links);

// Steps of frames in time order. `links`: indices of `moments`.
std::vector<Step> StepsOf(const std::vector<Moment>& moments, const std::vector<Link>& links);

// How many links cross each step, against what is usual in the session: few are a quarter of the middle count
// of those that any link crosses, or fewer. All kNone in a session without links.
enum class Crossed { kNone, kFew, kUsual };
std::vector<Crossed> HowCrossed(const std::vector<Step>& steps);

// Natural logarithm of the odds that the light changes at each step. Two kinds of step, "goes on" and
// "changes", whose habits are learned from the session itself by expectation and maximisation (Dempster,
// Laird, Rubin 1977), starting from what is usual: how often each leaves no link across, apart for short and
// for long pauses; how often the light changes at all; and how long pauses are where links show that the
// place stayed the same (a kernel estimate), against the minutes to an hour that a change of place takes.
// What a step does not tell (no time, a session without links) counts for neither.
std::vector<double> ChangeLogOdds(const std::vector<Step>& steps);

}  // namespace samelight::pair
