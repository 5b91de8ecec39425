#include "job/picture_grain.h"

#include <algorithm>
#include <cmath>

#include "job/grain_stage.h"
#include "preview/sample.h"
#include "session/session.h"

namespace samelight::job {
namespace {

// The rectangle of the picture that a view shows, with one pixel around.
render::Part PartOf(const image::RgbF& picture, const WantedPicture& wanted) {
  double left = 1e12, top = 1e12, right = -1e12, bottom = -1e12;
  for (const double x : {0.0, static_cast<double>(wanted.width_px)})
    for (const double y : {0.0, static_cast<double>(wanted.height_px)}) {
      const preview::Point p =
          preview::PictureFromOutput(wanted.view, wanted.width_px, wanted.height_px, {x, y});
      left = std::min(left, p.x);
      right = std::max(right, p.x);
      top = std::min(top, p.y);
      bottom = std::max(bottom, p.y);
    }
  render::Part part;
  part.x = static_cast<int>(std::clamp(std::floor(left) - 1, 0.0, picture.width() - 1.0));
  part.y = static_cast<int>(std::clamp(std::floor(top) - 1, 0.0, picture.height() - 1.0));
  part.width =
      static_cast<int>(std::clamp(std::ceil(right) + 1, part.x + 1.0, picture.width() + 0.0)) - part.x;
  part.height =
      static_cast<int>(std::clamp(std::ceil(bottom) + 1, part.y + 1.0, picture.height() + 0.0)) - part.y;
  return part;
}

}  // namespace

Result<FilmTraits> FilmOfBook(const Book& book, const Cancel& cancel) {
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(book.file, session::Access::kRead);
  if (!session.ok()) return session.error();
  const Result<Goods> goods = GoodsOf(**session);
  if (!goods.ok()) return goods.error();
  const Result<TraitPlan> plan = PlanTraits(**session, *goods, record::Order{});
  if (!plan.ok()) return plan.error();
  SilentProgress silent;
  return MeasureTraits(**session, *goods, *plan, 0, {silent, cancel});
}

bool SameFilm(const Book& a, const Book& b) {
  return std::equal(a.lights.begin(), a.lights.end(), b.lights.begin(), b.lights.end(),
                    [](const record::Light& x, const record::Light& y) {
                      return x.frames == y.frames && x.scans == y.scans;
                    }) &&
         std::equal(a.rolls.begin(), a.rolls.end(), b.rolls.begin(), b.rolls.end(),
                    [](const record::Roll& x, const record::Roll& y) {
                      return x.id == y.id && x.black_and_white == y.black_and_white && x.scans == y.scans;
                    });
}

Status DrawWithGrain(const Source& source, const record::Photo& photo, const record::Correction& correction,
                     const FilmTraits* film, const preview::Monitor& monitor, const WantedPicture& wanted,
                     const Cancel& cancel, preview::Shown& out) {
  render::RenderOptions options;
  options.cancel = cancel;
  options.part = PartOf(source.linear, wanted);
  if (film != nullptr) {
    options.grain.on = film->grain.patches > 0;
    options.grain.model = film->GrainOf(photo.id);
    options.grain.seed = GrainSeed(photo);
    if (const auto known = film->acutance.find(record::SourceName(photo)); known != film->acutance.end())
      options.acutance =
          render::SharpeningFor(known->second, std::max(source.linear.width(), source.linear.height()));
  }
  PutTouch(correction.touch, options);
  Result<image::RgbU8> pixels = render::Render8(source.linear, correction, options);
  if (!pixels.ok()) return pixels.error();
  const image::RgbF linear = preview::LinearOf(*pixels);
  preview::View view = wanted.view;
  view.centre.x -= options.part.x;
  view.centre.y -= options.part.y;
  preview::Sampled sampled;
  preview::Sample(linear, linear.width(), view, wanted.width_px, wanted.height_px, sampled);
  preview::ShowDisplay(sampled, monitor, false, wanted.marks, out);
  return {};
}

}  // namespace samelight::job
