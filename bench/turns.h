// Every turn of the interface thread, from one poll of its event loop to the next, and where a long one went.
#pragma once

#include <string>
#include <vector>

#include <QtWidgets/QApplication>

namespace samelight::bench {

struct Turn {
  double ms = 0;       // by the wall
  double own_ms = 0;   // processor time of this thread: what it would take if nothing else ran
  long waits = 0;      // times it slept before its end: for a lock, a file, the display
  long displaced = 0;  // times another thread was given its processor
  std::string doing;   // what the person did
  std::string parts;   // of a long turn: the events that cost most, each without those within it
};

// The application whose events can be counted. One at a time; used on the interface thread only.
class CountedApplication : public QApplication {
 public:
  using QApplication::QApplication;
  bool notify(QObject* receiver, QEvent* event) override;
};

// Counts turns while it lives. One at a time.
class Watchdog {
 public:
  // Turns above `long_ms` are kept with their parts.
  explicit Watchdog(double long_ms = 16);
  ~Watchdog();
  // What the person does from here on.
  void Doing(std::string what);
  const std::vector<Turn>& turns() const;

 private:
  Watchdog(const Watchdog&) = delete;
  Watchdog& operator=(const Watchdog&) = delete;
};

// Share of turns, percent, within `most` ms by the wall; 100 without any.
double Within(const std::vector<Turn>& turns, double most);
double Longest(const std::vector<Turn>& turns);
// The long turns one by one and then the figures of all, on standard output.
void PrintTurns(const char* what, const std::vector<Turn>& turns);

}  // namespace samelight::bench
