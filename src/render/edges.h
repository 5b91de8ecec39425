// The edges that happen to be in pictures, and how sharp they are.
#pragma once

#include <array>
#include <functional>
#include <utility>
#include <vector>

#include "base/cancel.h"
#include "image/raster.h"

namespace samelight::render {

// A straight place of 12 px along an edge between two calm sides.
struct Edge {
  static constexpr int kBins = 16;        // k / 32 cycles a pixel
  static constexpr int kProfile = 48;     // quarters of a pixel across the edge, which lies in the middle
  float x = 0, y = 0;                     // fractions of the picture
  bool lying = false;                     // nearer to a row than to a column
  float slope = 0;                        // pixels across for each along, -1..1
  float step = 0;                         // encoded luma of the far side less that of the near one, 0..255
  std::array<float, kBins> response{};    // spatial frequency response, 1 at k = 0; with its sign
  std::array<float, kProfile> profile{};  // 0 and 1 on the two sides
};

// Found on a picture blurred by 2 px, so that neither grain nor sharpness decides which are taken. Profile in
// quarters of a pixel, differentiated and transformed as ISO 12233 (e-SFR) does with its slanted edge.
// Profiles are averages along the edge and responses keep their sign: grain and noise scatter them but do not
// move their mean, as they would that of a power spectrum. `encoded`: luma of the encoded values counts,
// 0.2126 R + 0.7152 G + 0.0722 B (ITU-R BT.709-6, item 3.2). Thread safe; 16 bytes a pixel while it works.
// Asked to stop once a row of places, it returns what it has.
std::vector<Edge> FindEdges(const image::RgbU8& encoded, const Cancel& cancel = {});

// Edges of two pictures that show the same thing. `frame_from_scan` maps fractions of the scan to fractions
// of the frame; an edge is looked for within 1.2 % of the picture's side, of like direction and step.
struct EdgePair {
  Edge scan, frame;
  double scale = 1;  // the scan's pixels for one of the frame, there
};
using PlaceMap = std::function<std::pair<double, double>(double x, double y)>;
std::vector<EdgePair> SameEdges(const std::vector<Edge>& scan, int scan_width_px, int scan_height_px,
                                const std::vector<Edge>& frame, int frame_width_px, int frame_height_px,
                                const PlaceMap& frame_from_scan);

}  // namespace samelight::render
