// Work on many items at once.
#pragma once

#include <cstddef>
#include <functional>

#include "base/cancel.h"

namespace samelight {

// Number of workers used by ParallelFor: the machine's cores, unless SetWorkers was called.
int Workers();
// Limits the workers; 0 goes back to the machine's cores. Call before work starts.
void SetWorkers(int count);

// Calls body(i) for each i in [0, count), on up to Workers() threads, and returns when all are done. Bodies must not
// throw. After `cancel` is requested no further body starts; returns false in that case.
bool ParallelFor(std::size_t count, const Cancel& cancel, const std::function<void(std::size_t)>& body);

}  // namespace samelight
