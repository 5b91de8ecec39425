// What the loom shows: scans above, frames below, in the lights of the day; and where each of them lies.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/ids.h"

namespace samelight::window {

struct LoomScan {
  PhotoId id;
  int light = 0;           // index into Loom::lights
  int roll = 0;            // index into Loom::rolls
  std::string label;       // its number on the roll
  bool undecided = false;  // it seems to belong somewhere, but nowhere surely enough
  double aspect = 1.5;     // width / height
  bool operator==(const LoomScan&) const = default;
};

struct LoomFrame {
  PhotoId id;
  int light = 0;
  std::string label;
  double aspect = 1.5;
  double left_over = 0;   // largest, in units of the tolerance of its region; 0: none known
  bool compared = false;  // there is a left-over at all
  bool to_check = false;  // it has a reason that nobody has settled
  int follows = -1;       // index of the scan whose film it carries; -1: none in its light
  bool operator==(const LoomFrame&) const = default;
};

struct LoomRibbon {
  int scan = 0, frame = 0;  // indices
  double confidence = 0;    // 0..1
  bool by_hand = false;
  bool operator==(const LoomRibbon&) const = default;
};

struct LoomLight {
  std::string name, warmth, when;  // "light 3", "5600 K", "13:24 to 14:28"
  bool coloured_lamps = false;     // its scans are kept out of the look
  double mired = 169;
  int first_frame = 0, frames = 0;  // contiguous in Loom::frames
  int first_scan = 0, scans = 0;
  bool operator==(const LoomLight&) const = default;
};

// Scans by light and then along their rolls; frames by light and then in time.
struct Loom {
  std::vector<LoomScan> scans;
  std::vector<LoomFrame> frames;
  std::vector<LoomRibbon> ribbons;
  std::vector<LoomLight> lights;
  std::vector<std::string> rolls;
  std::string no_scans, no_frames;  // what stands in an empty strip
};
// Which lights of `now` look otherwise than in `was`, one entry for each; nothing when any picture would lie
// elsewhere.
std::optional<std::vector<char>> LightsThatDiffer(const Loom& was, const Loom& now);

// Where the ribbons are: by scan and by frame (-1: none), and by the light of their scan.
struct LoomTies {
  std::vector<int> of_scan, of_frame;
  std::vector<std::vector<int>> of_light;
  std::vector<int> astray;  // whose frame lies in another light than their scan
};
LoomTies TiesOf(const Loom& loom);

// Thickness of a ribbon, px: 1 + 8 confidence^1.7.
double RibbonThickness(double confidence);
// Below this a ribbon is drawn broken.
inline constexpr double kWeakConfidence = 0.5;

struct LoomSpan {
  double x = 0, w = 0;
  double centre() const { return x + w / 2; }
  bool holds(double at) const { return at >= x && at < x + w; }
  bool operator==(const LoomSpan&) const = default;
};

// Where everything lies, px from the left of the loom's ground.
struct LoomLayout {
  std::vector<LoomSpan> lights, scans, frames;
  std::vector<double> open;  // how far each light is open, 0 folded to 1
  double total = 0;          // width of all
  bool operator==(const LoomLayout&) const = default;
};

// How the loom is being looked at.
struct LoomGaze {
  double width = 1500;       // px that can be seen
  double strip_height = 56;  // px
  double at = 0;             // frame that is looked at, as a place along the frames
  // How far each light's pleat is open: 0 a slit, 1 as wide as fits, 2 every picture at its full width.
  std::vector<double> pleat;
};

// `gaze.pleat` must have one entry per light. Frames and scans of one light lie inside its span, in order,
// without overlap. O(pictures).
LoomLayout LayOutLoom(const Loom& loom, const LoomGaze& gaze);
// In between two layouts of the same loom; `t` 0 is a, 1 is b.
LoomLayout Between(const LoomLayout& a, const LoomLayout& b, double t);

// Index of the span that holds x, -1 if none. `spans` ascend.
int SpanAt(const std::vector<LoomSpan>& spans, double x);
// Index of the span whose centre is nearest to x, -1 if there is none.
int NearestSpan(const std::vector<LoomSpan>& spans, double x);

}  // namespace samelight::window
