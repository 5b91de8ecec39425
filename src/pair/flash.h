// Which moments were taken with flash, where the files do not say.
#pragma once

#include <vector>

#include "pair/lights.h"

namespace samelight::pair {

// As the file says; where it does not say, a moment is taken for flash when two linked moments within minutes
// show lamp light and itself is much nearer to daylight. Shadows and background keep the colour of the lamps,
// so that the white of a whole picture moves less than all the way.
std::vector<bool> Flashed(const std::vector<Moment>& moments, const std::vector<Link>& links);

// Members (indices of moments) of one light, in time order, that stand apart from the rest as flash would:
// their whites gather about two thirds of the way from the rest's to daylight, and what is bright in them has
// gone that way farther than what is dark. Two groups must be likelier than one by the price of their
// parameters. Empty where the light is too near to the flash's own colour, and where a file of them says
// whether the flash fired.
std::vector<int> FlashAmong(const std::vector<Moment>& moments, const std::vector<Link>& links,
                            const std::vector<int>& members);

}  // namespace samelight::pair
