#include "simulate/studio.h"

#include <algorithm>
#include <cmath>

#include "base/task_pool.h"
#include "simulate/random.h"

namespace samelight::simulate {

Size SizeFor(double aspect, int long_side_px, bool portrait) {
  const int short_side = static_cast<int>(std::lround(long_side_px / aspect));
  return portrait ? Size{short_side, long_side_px, 1 / aspect} : Size{long_side_px, short_side, aspect};
}

Studio::Studio(const Plan& plan, const SessionOptions& options, int light, const Cancel& cancel)
    : light_(plan.lights[light]) {
  const int long_side = std::clamp(static_cast<int>(options.frame_long_side_px * 1.7), 800, 4000);
  const auto& wanted = light_.photographs;
  std::vector<Photograph> loaded(wanted.size());
  std::vector<char> failed(wanted.size(), 0);
  ParallelFor(wanted.size(), cancel, [&](std::size_t k) {
    const std::uint64_t index = wanted[k];
    if (!plan.IsPainted()) {
      SkinTone skin;
      if (options.skin_of_every_tone) {
        Random random(options.seed, {0x5c1, index});
        skin.change = true;
        skin.lightness = std::exp2(random.Uniform(-2.0, 0.4));
      }
      auto read = LoadPhotograph(options.photographs / plan.photographs[index], long_side, skin);
      if (read.ok()) {
        loaded[k] = std::move(*read);
        return;
      }
      failed[k] = 1;
    }
    loaded[k] = PaintScene(options.seed * 1000 + index, long_side);
  });
  for (std::size_t k = 0; k < wanted.size() && !cancel.requested(); ++k) {
    skipped_ += failed[k];
    surfaces_.emplace(wanted[k], SurfacesOf(loaded[k].palette));
    photographs_.emplace(wanted[k], std::move(loaded[k]));
  }
}

Lighting Studio::Now(const Sight& sight) const {
  Lighting now = light_.lighting;
  now.key_share = std::clamp(now.key_share + sight.moment->key_shift, 0.05, 0.95);
  if (sight.flash) {  // what is near and bright gets the flash, the rest keeps the light of the room
    for (std::size_t k = 0; k < now.fill.size(); ++k) now.fill[k] = 0.5 * (now.fill[k] + now.key[k]);
    now.key = Flash();
    now.sideways = false;
    now.contrast = 0.6;
    now.key_share = 0.6;
  }
  return now;
}

SceneView Studio::LookAt(const Sight& sight, Size size) const {
  const Photograph& photograph = photographs_.at(sight.photograph);
  return Look(photograph, Inside(*sight.view, photograph, size.aspect), Now(sight), size.width_px,
              size.height_px);
}

image::RgbF Studio::Expose(const Sensitivities& sees, const Sight& sight, const SceneView& view,
                           Vec3* neutral) const {
  const SensorInLight sensor(sees, surfaces_.at(sight.photograph), Now(sight));
  if (neutral) *neutral = sensor.Neutral();
  image::RgbF out = sensor.Expose(view);
  const float brighter = static_cast<float>(std::exp2(sight.moment->brighter_ev));
  for (float& v : out.data()) v *= brighter;
  return out;
}

image::RgbF Studio::OnFilm(const Stock& stock, const Sight& sight, const SceneView& view) const {
  image::RgbF exposure = Expose(stock.layers, sight, view, nullptr);
  const Vec3 reference = DaylightReference(stock);
  const float scale[3] = {static_cast<float>(1 / reference[0]), static_cast<float>(1 / reference[1]),
                          static_cast<float>(1 / reference[2])};
  for (std::size_t i = 0; i < exposure.data().size(); ++i) exposure.data()[i] *= scale[i % 3];
  return exposure;
}

Vec3 Studio::GreyCard(const Stock& stock, const Lab& lab, const Sight& sight, double push_ev) const {
  const Lighting light = Now(sight);
  const Vec3 key = Respond(stock.layers, light.key), fill = Respond(stock.layers, light.fill),
             reference = DaylightReference(stock);
  Vec3 log_exposure;
  for (int c = 0; c < 3; ++c)
    log_exposure[c] =
        std::log10((light.key_share * key[c] + (1 - light.key_share) * fill[c]) / reference[c]) +
        0.30103 * film_over_ev();
  return lab.ScanExactly(DyesOf(stock, log_exposure, push_ev));
}

LabSetting Studio::Automatic(const Stock& stock, const Lab& lab, const Sight& sight, double aspect,
                             bool portrait) const {
  Development how;
  how.over_ev = film_over_ev();
  const SceneView small = LookAt(sight, SizeFor(aspect, 160, portrait));
  return lab.Automatic(lab.Scan(Develop(stock, OnFilm(stock, sight, small), how)),
                       GreyCard(stock, lab, sight, 0));
}

image::RgbF Studio::SkinMask(const Sight& sight, Size size) const {
  const Photograph& photograph = photographs_.at(sight.photograph);
  if (!photograph.people) return {};
  image::RgbF mask = LookAt(sight, size).colour;
  for (std::size_t i = 0; i < mask.pixels(); ++i) {
    float* p = mask.data().data() + 3 * i;
    p[0] = p[1] = p[2] = SkinLike(p) > 0.6f ? 1.0f : 0.0f;
  }
  return mask;
}

}  // namespace samelight::simulate
