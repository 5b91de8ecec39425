// A look as a shaper and a three-dimensional table, as exports want it.
#pragma once

#include <vector>

#include "base/cancel.h"
#include "base/matrix.h"
#include "base/progress.h"
#include "record/learned_look.h"

namespace samelight::exchange {

// The look as it comes out of one light: unified scene-linear BT.2020 (mid-grey 0.18) to display-linear
// BT.2020, exactly (look::FilmFromScene).
struct LookInLight {
  record::Look look;
  Vec3 offset_log10{0, 0, 0};
  Vec3 Display(const Vec3& scene) const;
};
// The means of a learned look in a light of daylight's colour whose frames are as bright as usually metered
// ones, `exposure_ev` brighter.
LookInLight InUsualLight(const record::LearnedLook& look, double exposure_ev);

// x -> (log2(x + offset) - low) / (high - low): 0 at x = 0, 1 at x = most. Darker than 0 counts as 0.
struct Shaper {
  double offset = 0.0005;  // about 8.5 EV below mid-grey, where films end
  double most = 16;
  double Shaped(double x) const;
  double Unshaped(double shaped) const;
  double low() const;
  double high() const;
};

// out = table(shaper(matrix * scene)), values encoded by IEC 61966-2-1 (sRGB), 0..1.
struct LookTable {
  Mat3 matrix = kIdentity3;
  Shaper shaper;
  int nodes = 0;
  std::vector<float> rgb;  // nodes^3 * 3, blue runs fastest
  // Tetrahedral interpolation, as ISO 18619 and the Common LUT Format describe it.
  Vec3 At(const Vec3& scene) const;
};
// `matrix_apart`: m1 goes in front of the shaper, where a format has room for it; the table then runs along
// the film's layers and is nearer to the look. nodes 2..129. One step of `progress` for each of its planes;
// after `cancel` was requested the table is not whole and must not be used.
LookTable MakeTable(const LookInLight& look, const Shaper& shaper, int nodes, bool matrix_apart,
                    Progress& progress, const Cancel& cancel);

// sRGB (IEC 61966-2-1) of display-linear BT.2020, clipped to 0..1.
Vec3 EncodedSrgb(const Vec3& rec2020_display);

// CIEDE2000 between `shown` (encoded sRGB of a scene colour) and the exact look, over a grid of greys and
// colours of 0 to 70 % saturation from 7 EV below to 5 EV above mid-grey and within 0..`most`.
struct TableError {
  double mean = 0, most = 0;
};
TableError ErrorOf(const LookInLight& look, double most, const std::vector<Vec3>& shown);
// That grid.
std::vector<Vec3> ProbeColours(double most);

}  // namespace samelight::exchange
