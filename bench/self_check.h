// Checks of the benchmark's own arithmetic, run before any number is printed.
#pragma once

#include <string>
#include <vector>

#include "bench/pictures.h"

namespace samelight::bench {

// What is wrong with the colour difference, the baselines and the reference tables; empty: nothing.
std::vector<std::string> SelfCheck();

// Whether frames lie on their truth: the shift of whole pixels (within +-2) at which the gradients of
// lightness agree best is (0, 0). Looks at up to `most` frames spread over the session. What is wrong; empty:
// nothing.
std::vector<std::string> CheckRegistration(const Truth& truth, const Pictures& pictures, int most);

}  // namespace samelight::bench
