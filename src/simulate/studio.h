// One light of a session with everything that was put into it: what cameras and films see there.
#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <vector>

#include "base/cancel.h"
#include "simulate/film.h"
#include "simulate/lab.h"
#include "simulate/plan.h"

namespace samelight::simulate {

struct Size {
  int width_px, height_px;
  double aspect;  // width over height before both were rounded to pixels: one sight is one part at any size
};
// `aspect` is width over height held level.
Size SizeFor(double aspect, int long_side_px, bool portrait);

// What the lens points at: a moment, a view of it, and whether the flash fired.
struct Sight {
  const Moment* moment;
  int photograph;
  const View* view;
  bool flash = false;
};

// Loads the photographs of a light and keeps them until it is destroyed. Thread safe after construction.
class Studio {
 public:
  Studio(const Plan& plan, const SessionOptions& options, int light, const Cancel& cancel);

  const PlannedLight& light() const { return light_; }
  // Photographs that could not be read and were painted instead.
  int skipped() const { return skipped_; }
  // How far over the box speed film is exposed here, EV: a stop where there is light enough.
  double film_over_ev() const { return light_.lighting.dim ? 0.4 : 1.0; }

  SceneView LookAt(const Sight& sight, Size size) const;
  // Response of three sensitivities; `neutral`, when given, gets that of the perfect diffuser.
  image::RgbF Expose(const Sensitivities& sees, const Sight& sight, const SceneView& view,
                     Vec3* neutral) const;
  // Exposure of a film's layers, in the stock's daylight units (see DaylightReference).
  image::RgbF OnFilm(const Stock& stock, const Sight& sight, const SceneView& view) const;
  // Densities of a grey card in the light of a sight, on film exposed as usual here.
  Vec3 GreyCard(const Stock& stock, const Lab& lab, const Sight& sight, double push_ev) const;
  // What the lab says to a small print of a sight on `stock`.
  LabSetting Automatic(const Stock& stock, const Lab& lab, const Sight& sight, double aspect,
                       bool portrait) const;
  // 1 where the view shows skin of a person, 0 elsewhere, as a grey picture; empty for photographs without
  // people.
  image::RgbF SkinMask(const Sight& sight, Size size) const;

 private:
  Lighting Now(const Sight& sight) const;

  const PlannedLight& light_;
  std::map<int, Photograph> photographs_;
  std::map<int, Surfaces> surfaces_;
  int skipped_ = 0;
};

}  // namespace samelight::simulate
