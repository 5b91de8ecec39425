#include "cli/stop.h"

#include <signal.h>
#include <unistd.h>

namespace samelight::cli {
namespace {

Cancel* g_cancel = nullptr;  // made before the handler is set, never freed

void OnSignal(int) {
  if (g_cancel->requested()) ::_exit(130);
  g_cancel->Request();
}

}  // namespace

Cancel StopOnSignal() {
  if (g_cancel == nullptr) g_cancel = new Cancel;
  struct sigaction action {};
  action.sa_handler = OnSignal;
  action.sa_flags = SA_RESTART;
  ::sigemptyset(&action.sa_mask);
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
  return *g_cancel;
}

}  // namespace samelight::cli
