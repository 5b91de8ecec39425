// A face's lit and shaded side, told apart by how light its places are.
#pragma once

#include <vector>

#include "record/region.h"

namespace samelight::solve {

// One side per lightness (CIELAB L*): the threshold of Otsu 1979 (IEEE Trans. SMC 9(1), 62-66: the largest
// variance between the two classes). All kWhole where the two sides' means are less than 10 L* apart (common
// practice: less is a face's own drawing), or where one side has fewer than 12 places.
std::vector<record::Side> SidesOf(const std::vector<double>& lightness);

}  // namespace samelight::solve
