#include "cli/progress_lines.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <fmt/format.h>

namespace samelight::cli {
namespace {

constexpr auto kRedraw = std::chrono::milliseconds(100);
constexpr auto kPlainLine = std::chrono::seconds(10);
constexpr int kBarWidth = 24;

std::string Duration(double seconds) {
  const long whole = std::lround(seconds);
  return whole >= 3600 ? fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
                       : fmt::format("{}:{:02}", whole / 60, whole % 60);
}

}  // namespace

std::string TimeLeft(double seconds_so_far, long done, long total) {
  if (done < 1 || seconds_so_far < 1 || total < done) return {};
  return Duration(seconds_so_far / static_cast<double>(done) * static_cast<double>(total - done)) + " left";
}

ProgressLines::~ProgressLines() { Wipe(); }

void ProgressLines::Begin(const std::string& name, long total) {
  const std::lock_guard lock(mutex_);
  Wipe();
  name_ = name;
  total_ = std::max(0l, total);
  done_ = 0;
  begun_ = drawn_ = Clock::now();
  if (terminal_)
    Draw(begun_);
  else
    fmt::print(stderr, "{}: {}\n", name_, total_);
}

void ProgressLines::Advance(long steps) {
  const std::lock_guard lock(mutex_);
  done_ += steps;
  const Clock::time_point now = Clock::now();
  if (now - drawn_ < (terminal_ ? Clock::duration(kRedraw) : Clock::duration(kPlainLine))) return;
  Draw(now);
}

void ProgressLines::End() {
  const std::lock_guard lock(mutex_);
  Wipe();
  const double seconds = std::chrono::duration<double>(Clock::now() - begun_).count();
  if (!name_.empty()) fmt::print(stderr, "{}: {} of {} in {:.1f} s\n", name_, done_, total_, seconds);
  name_.clear();
}

void ProgressLines::Draw(Clock::time_point now) {
  drawn_ = now;
  const double seconds = std::chrono::duration<double>(now - begun_).count();
  const std::string left = TimeLeft(seconds, done_, total_);
  if (!terminal_) {
    fmt::print(stderr, "{}: {} of {}{}\n", name_, done_, total_, left.empty() ? "" : ", " + left);
    return;
  }
  const int filled = total_ == 0 ? 0 : static_cast<int>(std::min(done_, total_) * kBarWidth / total_);
  fmt::print(stderr, "\r\x1b[K{} |{:<{}}| {} of {}{}", name_,
             std::string(static_cast<std::size_t>(filled), '='), kBarWidth, done_, total_,
             left.empty() ? "" : ", " + left);
  std::fflush(stderr);
  drawn_line_ = true;
}

void ProgressLines::Wipe() {
  if (!drawn_line_) return;
  fmt::print(stderr, "\r\x1b[K");
  std::fflush(stderr);
  drawn_line_ = false;
}

}  // namespace samelight::cli
