// How sure a correction is: from the covariance of what was fitted to the units that a person reads.
#pragma once

#include <array>
#include <vector>

#include "record/correction.h"
#include "solve/film_fit.h"
#include "solve/unify.h"

namespace samelight::solve {

// Scene-linear skin, leaf and grey at normal exposure (measured spectra under D65, rounded).
inline constexpr std::array<Vec3, 3> kUsualColours = {
    {{0.30, 0.22, 0.16}, {0.075, 0.11, 0.045}, {0.18, 0.18, 0.18}}};

// Of the numbers of a look and three log10 offsets, in that order; row by row.
inline constexpr int kSpreadSize = kLookSize + 3;
using Spread = std::vector<double>;

// The look is the common one and the rolls' differences in these shares (sum 1; one per roll): the mean of
// the looks when several are possible, which widens the spread. Light `light`'s offsets as fitted, together
// with the look.
Spread SpreadOfFilmed(const FilmFit& fit, const std::vector<double>& shares, int light);
// The offsets are believed, apart from the look. A fit without any scan: the spread of `before` alone.
Spread SpreadOfCarried(const FilmFit& fit, const std::vector<double>& shares, const OffsetPrior& offsets,
                       const LookBelief& before);

// One standard deviation of every handle and of the predicted colours of skin, foliage and a grey: the
// principal axes of the spread, each moved by one standard deviation.
record::Uncertainty UncertaintyOf(const LookVector& look, const Vec3& offset_log10, const Spread& spread);

// Adds what one frame may be off by itself, apart from its light.
void AddOwnDoubt(const LookVector& look, const Vec3& offset_log10, const OwnDoubt& doubt,
                 record::Uncertainty& uncertainty);

}  // namespace samelight::solve
