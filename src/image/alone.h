// One thread per picture.
#pragma once

namespace samelight::image {

// From the first call on the picture library works in the thread that calls it; the work is spread over pictures
// already. To be called before any of its functions that may spread. Thread safe, where the library's own switch
// is not: set from several threads at once it takes down the arena in which another one has just begun to work.
void WorkAlone();

}  // namespace samelight::image
