#include "job/memory_gate.h"

#include <unistd.h>

#include <algorithm>
#include <chrono>

#include "codec/memory.h"

namespace samelight::job {

MemoryGate::Admission::~Admission() { ShrinkTo(0); }

void MemoryGate::Admission::ShrinkTo(std::uint64_t bytes) {
  if (gate_ == nullptr || bytes >= bytes_) return;
  {
    const std::lock_guard lock(gate_->mutex_);
    gate_->used_ -= bytes_ - bytes;
  }
  bytes_ = bytes;
  gate_->freed_.notify_all();
}

MemoryGate::Admission MemoryGate::Admit(std::uint64_t bytes, const Cancel& cancel,
                                        const std::function<void()>& make_room) {
  std::unique_lock lock(mutex_);
  const auto fits = [&] { return used_ == 0 || used_ + bytes <= budget_; };
  while (!fits()) {
    if (cancel.requested()) return {nullptr, 0};
    if (make_room) {
      lock.unlock();
      make_room();
      lock.lock();
      if (fits()) break;
    }
    freed_.wait_for(lock, std::chrono::milliseconds(100));
  }
  if (cancel.requested()) return {nullptr, 0};
  used_ += bytes;
  return {this, bytes};
}

std::uint64_t BudgetBytes(std::uint64_t mib) {
  if (mib > 0) return mib << 20;
  const auto pages = static_cast<std::uint64_t>(std::max(0l, ::sysconf(_SC_PHYS_PAGES)));
  return pages * static_cast<std::uint64_t>(::sysconf(_SC_PAGESIZE)) / 4;
}

namespace {
// Of any size of picture: small copies, tables of a correction.
constexpr std::uint64_t kBeside = 48u << 20;
constexpr std::uint64_t kFloats = 12;  // bytes of a pixel
}  // namespace

std::uint64_t WorkingBytes(const record::Photo& photo, const codec::ReadOptions& read) {
  return codec::ReadingBytes(photo, read) + kBeside;
}

std::uint64_t WorkingBytes(const record::Photo& photo, const codec::ReadOptions& read, bool framed,
                           int long_side_px, bool sixteen_bits, const codec::WriteOptions& write) {
  const std::uint64_t pixels =
      static_cast<std::uint64_t>(photo.width_px) * static_cast<std::uint64_t>(photo.height_px);
  const int longest = std::max(photo.width_px, photo.height_px);
  const double scale = long_side_px > 0 && long_side_px < longest ? double(long_side_px) / longest : 1;
  const auto out = static_cast<std::uint64_t>(static_cast<double>(pixels) * scale * scale);
  const std::uint64_t reduced = scale < 1 ? out * kFloats : 0;
  // What waits for the next picture is held from its beginning on.
  const std::uint64_t held = out * (sixteen_bits ? 6 : 3) + (framed ? pixels * kFloats : 0);
  return held + kBeside +
         std::max(codec::ReadingBytes(photo, read, true), codec::PictureBytes(photo, read) + reduced +
                                                              codec::EncodingBytes(out, sixteen_bits, write));
}

}  // namespace samelight::job
