// What is applied to one frame, and how sure it is.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "base/ids.h"
#include "base/matrix.h"
#include "record/flag.h"
#include "record/region.h"

namespace samelight::record {

// One layer's response on log10 axes: in = log10 of scene-linear exposure, out = log10 of display-linear value.
//   u = gamma * (in - log10 0.18) + log10 0.18
//   v = floor + toe * softplus((u - floor) / toe)
//   out = ceiling - shoulder * softplus((ceiling - v) / shoulder)
// Monotone and smooth for gamma, toe, shoulder > 0 and ceiling > floor. -floor is the black density above the display's
// own black, -ceiling the density of the brightest white.
struct LayerCurve {
  double gamma = 1;                    // slope at mid-grey, log10/log10
  double floor = -2.6;                 // log10 display-linear
  double ceiling = 0.0;                // log10 display-linear
  double toe = 0.25;                   // width of the toe, log10
  double shoulder = 0.15;              // width of the shoulder, log10
  bool operator==(const LayerCurve&) const = default;
};

// A smooth change around one hue. Centres and widths are fixed per look (look/model.h).
struct HueBump {
  double hue_deg = 0;                  // turn of the hue, degrees
  double chroma = 0;                   // relative change of chroma: 0.1 is +10 %
  double lightness = 0;                // change of L* (0..100 scale)
  bool operator==(const HueBump&) const = default;
};
inline constexpr int kHueBumps = 6;

// The film seen through one kind of source (design: "The look").
struct Look {
  Mat3 m1 = kIdentity3;                // of linear exposures; rows sum to 1
  // What developing layers do to each other: of log display values after the curves, fading toward the ceiling so
  // that whites stay what the curves make of them. Rows sum to 1.
  //   out'_c = out_c + (1 - 10^(out_c - ceiling_c)) * sum_k interimage_ck (out_k - out_c)
  Mat3 interimage = kIdentity3;
  std::array<LayerCurve, 3> layer{};
  Mat3 m2 = kIdentity3;                // of linear display values; rows sum to 1
  std::array<HueBump, kHueBumps> bumps{};
  bool operator==(const Look&) const = default;
};

// Brings a frame to the common digital reference of its light, before the look.
// scene = 10^exposure * matrix * Inverse(display tone)(pixel)
struct Unify {
  bool display_referred = false;       // camera JPEG and the like: undo the tone curve first
  // Inverse tone curve on log10 axes, monotone piecewise cubic through knots (in: log10 display-linear, out: log10
  // scene-linear), the same for R, G and B. Empty: identity.
  std::vector<double> tone_in, tone_out;
  Mat3 matrix = kIdentity3;            // includes the white of the light and per-channel gains
  double exposure_log10 = 0;
  bool operator==(const Unify&) const = default;
};

// The handles as shown to a person; the touch of an editor is kept in the same units and added.
struct Handles {
  double exposure_ev = 0;
  double warmth_mired = 0;             // positive warms the picture
  double green_magenta = 0;            // Duv x 1000, positive greener
  double gamma = 0;                    // added to the slope of all layers
  double toe = 0;                      // added to the toe width, log10
  double shoulder = 0;                 // added to the shoulder width, log10
  double black_density = 0;            // added density of the blacks; negative lifts
  double chroma = 0;                   // relative, 0.1 is +10 %
  std::array<HueBump, kHueBumps> hues{};  // added to the look's, in the same units
  double grain_amount = 0;             // relative to the film's grain, 0.1 is +10 %, -1 is none
  double grain_size = 0;               // relative, 0.1 is +10 %
  double acutance = 0;                 // added gain of the finest detail
  bool operator==(const Handles&) const = default;
};

struct Correction {
  PhotoId frame;
  Unify unify;
  Look look;
  Vec3 offset_log10{0, 0, 0};          // per-layer log10 exposure after m1: of the light, its trend, and what is the frame's own
  double follow = 1;                   // 0 neutral rendering, 1 full match
  double follow_skin = 1;              // the same for skin hues
  // The same for the colours of foliage and of sky; negative: with the whole.
  double follow_foliage = -1, follow_sky = -1;
  Handles touch;                       // the editor's own last change
  bool operator==(const Correction&) const = default;
};

// What the lab did to one scan alone, against what it makes of the scan's light: added to the correction of the light, it
// gives the scan.
struct ScanNudge {
  Vec3 offset_log10{0, 0, 0};          // density and colour, what it took back of the picture's content included
  double contrast = 0;                 // of the slopes, relative
  double black_log10 = 0;              // added to the floors
  bool operator==(const ScanNudge&) const = default;
};

// Left-over of one region: CIEDE2000 between medians of scan and frame, before (camera rendering) and after. The aim is
// the scan without its own nudge, as the mean of its light would show it.
struct LeftOver {
  RegionKind region = RegionKind::kOther;
  int face = -1;
  double before = 0, after = 0;
  Vec3 lab_scan{}, lab_after{};        // CIELAB, D65
  int cells = 0;
  Side side = Side::kWhole;            // of a face
  double nudge = 0;                    // CIEDE2000 between scan and aim: the part of the scan's own nudge
  double off_aim = 0;                  // CIEDE2000 from the aim; a lesser follow or a touch on purpose is not counted
  Vec3 lab_aim{}, lab_off{};           // the aim, and what is that far from it
};

struct Uncertainty {                   // one standard deviation each
  Handles handles;                     // of the shown values; grain and acutance are not solved: 0
  double skin = 0, foliage = 0, neutral = 0;  // CIEDE2000 of the predicted colour
};

// The result for one frame.
struct FrameSolution {
  PhotoId frame;
  LightId light;
  PhotoId scan;                        // the scan it is paired with; invalid if none
  bool scan_in_look = true;            // it tells of its light; false: barred, black-and-white, shows other things, ...
  ScanNudge nudge;                     // from the correction to that scan; nothing where the scan itself is followed
  std::string look;                    // name of the look
  Correction correction;
  Handles shown;                       // the correction in a person's units, relative to the neutral rendering
  std::vector<LeftOver> left_over;     // empty without a paired scan
  Uncertainty uncertainty;
  std::vector<Flag> flags;             // reasons to look, the worst first
};

}  // namespace samelight::record
