// How a long job tells how far it is. Implemented by the command line and by the window.
#pragma once

#include <string>

namespace samelight {

// All calls may come from any thread; implementations lock.
class Progress {
 public:
  virtual ~Progress() = default;
  // A stage starts: `name` for a person ("reading pictures"), `total` steps to come.
  virtual void Begin(const std::string& name, long total) = 0;
  // `steps` more are done.
  virtual void Advance(long steps) = 0;
  // The stage is over.
  virtual void End() = 0;
};

// Says nothing.
class SilentProgress final : public Progress {
 public:
  void Begin(const std::string&, long) override {}
  void Advance(long) override {}
  void End() override {}
};

}  // namespace samelight
