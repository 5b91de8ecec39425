// Pixels of the delivered file, grain and all, for the part that is seen.
#pragma once

#include "job/picture_sources.h"
#include "job/pictures.h"
#include "preview/screen.h"
#include "record/grain.h"
#include "render/render.h"

namespace samelight::job {

// Grain of the session's film, measured on its scans; errors of MeasureGrain. Takes seconds.
Result<record::GrainModel> GrainOfBook(const Book& book, const Cancel& cancel);

// `source` must be at full size and the view's zoom at least 1. Without `grain` there is none.
Status DrawWithGrain(const Source& source, const record::Photo& photo, const record::Correction& correction,
                     const record::GrainModel* grain, const preview::Monitor& monitor,
                     const WantedPicture& wanted, const Cancel& cancel, preview::Shown& out);

}  // namespace samelight::job
