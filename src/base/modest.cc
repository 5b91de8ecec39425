#include "base/modest.h"

#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace samelight {

// On Linux a priority belongs to a thread, not to its process (setpriority(2), "C library/kernel
// differences").
void BeModest() {
  constexpr int kNicer = 5;  // about a third of the share of an ordinary thread (sched(7))
  const auto thread = static_cast<id_t>(::syscall(SYS_gettid));
  static_cast<void>(::setpriority(PRIO_PROCESS, thread, ::getpriority(PRIO_PROCESS, thread) + kNicer));
}

}  // namespace samelight
