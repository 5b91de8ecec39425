#include "bench/turns.h"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <map>
#include <utility>

#include <ctime>

#include <glib.h>
#include <sys/resource.h>

#include <QtCore/QMetaEnum>
#include <QtGui/QPaintEvent>
#include <QtWidgets/QWidget>

namespace samelight::bench {
namespace {

using Clock = std::chrono::steady_clock;

double NowMs() { return std::chrono::duration<double, std::milli>(Clock::now().time_since_epoch()).count(); }

double OwnMs() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

struct Part {
  double ms = 0, own_ms = 0;
  long pixels = 0;  // of paint events
  int times = 0;
};
struct Stamp {
  double ms = 0, own_ms = 0;
};
Stamp Now() { return {NowMs(), OwnMs()}; }

// What is being counted; nothing while no watchdog lives.
struct Count {
  double long_ms = 16;
  Stamp begun;
  rusage used{};
  bool in_turn = false;
  std::string doing;
  std::vector<Turn> turns;
  std::map<std::pair<const char*, int>, Part> parts;  // class of the receiver, event
  std::vector<Stamp> inner;                           // of each event in work: spent in events within it
};
Count* counting = nullptr;

std::string Told(const std::map<std::pair<const char*, int>, Part>& parts) {
  std::vector<std::pair<std::pair<const char*, int>, Part>> most(parts.begin(), parts.end());
  std::sort(most.begin(), most.end(), [](const auto& a, const auto& b) { return a.second.ms > b.second.ms; });
  std::string told;
  for (std::size_t i = 0; i < std::min<std::size_t>(6, most.size()); ++i) {
    const auto& [key, part] = most[i];
    if (part.ms < 0.2) break;
    const char* event = QMetaEnum::fromType<QEvent::Type>().valueToKey(key.second);
    char line[200];
    std::snprintf(line, sizeof line, "    %-36s %-16s x%-3d %6.1f ms, own %5.1f", key.first,
                  event ? event : "?", part.times, part.ms, part.own_ms);
    told += line;
    if (part.pixels > 0) {
      std::snprintf(line, sizeof line, ", %.0f kpx", static_cast<double>(part.pixels) / 1000);
      told += line;
    }
    told += '\n';
  }
  return told;
}

void Ended() {
  Count& c = *counting;
  if (!std::exchange(c.in_turn, false)) return;
  const Stamp now = Now();
  rusage used{};
  getrusage(RUSAGE_THREAD, &used);
  Turn turn;
  turn.ms = now.ms - c.begun.ms;
  turn.own_ms = now.own_ms - c.begun.own_ms;
  turn.waits = used.ru_nvcsw - c.used.ru_nvcsw;
  turn.displaced = used.ru_nivcsw - c.used.ru_nivcsw;
  turn.doing = c.doing;
  if (turn.ms > c.long_ms) turn.parts = Told(c.parts);
  c.turns.push_back(std::move(turn));
  c.parts.clear();
}

gint Poll(GPollFD* fds, guint count, gint timeout) {
  if (counting) Ended();
  const gint ready = g_poll(fds, count, timeout);
  if (counting) {
    counting->begun = Now();
    getrusage(RUSAGE_THREAD, &counting->used);
    counting->in_turn = true;
  }
  return ready;
}

}  // namespace

bool CountedApplication::notify(QObject* receiver, QEvent* event) {
  if (!counting || !counting->in_turn) return QApplication::notify(receiver, event);
  const std::pair<const char*, int> key(receiver->metaObject()->className(), event->type());
  long pixels = 0;
  if (event->type() == QEvent::Paint)
    for (const QRect& box : static_cast<QPaintEvent*>(event)->region())
      pixels += static_cast<long>(box.width()) * box.height();
  counting->inner.emplace_back();
  const Stamp begun = Now();
  const bool taken = QApplication::notify(receiver, event);
  if (!counting || counting->inner.empty()) return taken;
  const Stamp now = Now(), inner = counting->inner.back();
  counting->inner.pop_back();
  const Stamp whole{now.ms - begun.ms, now.own_ms - begun.own_ms};
  Part& part = counting->parts[key];
  part.ms += whole.ms - inner.ms;
  part.own_ms += whole.own_ms - inner.own_ms;
  part.pixels += pixels;
  ++part.times;
  if (!counting->inner.empty()) {
    counting->inner.back().ms += whole.ms;
    counting->inner.back().own_ms += whole.own_ms;
  }
  return taken;
}

Watchdog::Watchdog(double long_ms) {
  counting = new Count;
  counting->long_ms = long_ms;
  g_main_context_set_poll_func(nullptr, Poll);
}
Watchdog::~Watchdog() {
  g_main_context_set_poll_func(nullptr, nullptr);
  delete std::exchange(counting, nullptr);
}
void Watchdog::Doing(std::string what) { counting->doing = std::move(what); }
const std::vector<Turn>& Watchdog::turns() const { return counting->turns; }

double Within(const std::vector<Turn>& turns, double most) {
  if (turns.empty()) return 100;
  const auto count = std::count_if(turns.begin(), turns.end(), [&](const Turn& t) { return t.ms <= most; });
  return 100.0 * static_cast<double>(count) / static_cast<double>(turns.size());
}

double Longest(const std::vector<Turn>& turns) {
  double most = 0;
  for (const Turn& turn : turns) most = std::max(most, turn.ms);
  return most;
}

void PrintTurns(const char* what, const std::vector<Turn>& turns) {
  double own = 0;
  long above = 0;
  for (const Turn& turn : turns) {
    own = std::max(own, turn.own_ms);
    above += turn.own_ms > 16;
    if (!turn.parts.empty())
      std::printf("  a turn of %.1f ms, %.1f of them its own, %ld waits, displaced %ld times: %s\n%s",
                  turn.ms, turn.own_ms, turn.waits, turn.displaced, turn.doing.c_str(), turn.parts.c_str());
  }
  std::printf("%s: %zu turns of the interface; %.2f %% within 16 ms, longest %.1f ms\n", what, turns.size(),
              Within(turns, 16), Longest(turns));
  std::printf("(by the thread's own processor time: %ld above 16 ms, longest %.1f ms)\n", above, own);
}

}  // namespace samelight::bench
