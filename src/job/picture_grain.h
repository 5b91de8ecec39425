// Pixels of the delivered file, grain and all, for the part that is seen.
#pragma once

#include "job/film_traits.h"
#include "job/picture_sources.h"
#include "job/pictures.h"
#include "preview/screen.h"
#include "render/render.h"

namespace samelight::job {

// Grain and acutance of the session's film, as an order with nothing said takes them; errors of
// MeasureTraits. Takes seconds and more the first time, then what was kept is read.
Result<FilmTraits> FilmOfBook(const Book& book, const Cancel& cancel);

// Whether frames of both books get their grain from the same rolls.
bool SameFilm(const Book& a, const Book& b);

// `source` must be at full size and the view's zoom at least 1. Without `film` there is neither grain nor
// acutance.
Status DrawWithGrain(const Source& source, const record::Photo& photo, const record::Correction& correction,
                     const FilmTraits* film, const preview::Monitor& monitor, const WantedPicture& wanted,
                     const Cancel& cancel, preview::Shown& out);

}  // namespace samelight::job
