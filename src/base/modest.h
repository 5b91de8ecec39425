// Work that may wait.
#pragma once

namespace samelight {

// From now on the calling thread leaves the processor to threads that someone waits for: the system gives it
// less where both want to run, and all of what is free. Threads that it starts do the same. Where the system
// does not allow it, nothing changes.
void BeModest();

}  // namespace samelight
