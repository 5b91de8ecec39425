// Linked views of two pictures of one scene, also when they are framed differently.
#pragma once

#include <optional>

#include "preview/view.h"
#include "record/pair.h"

namespace samelight::preview {

// Turn, scale and shift: b = scale * turn(angle) * (mirrored a) + shift, in full-size pixels of both.
struct Similarity {
  double scale = 1, angle_deg = 0;
  Point shift;
  bool mirrored = false;  // a is mirrored left to right about x = 0 first
};
Point Map(const Similarity& b_from_a, Point a);
Similarity Inverse(const Similarity& b_from_a);

// The similarity that carries most matched places of `matched` (fractions of pictures of the given sizes)
// from a to b: weighted least squares (Umeyama 1991, "Least-squares estimation of transformation parameters
// between two point patterns"), with places that do not follow losing their say (Geman-McClure). Empty with
// fewer than 6 places or when they agree on nothing.
std::optional<Similarity> FitSimilarity(const record::Correspondence& matched, int a_width, int a_height,
                                        int b_width, int b_height);

// The view of b that shows what `view` shows of a.
View Linked(const Similarity& b_from_a, const View& view);
// Without matched places: the same part of the whole, by fractions.
View LinkedByFraction(const View& view, int a_width, int a_height, int b_width, int b_height);

}  // namespace samelight::preview
