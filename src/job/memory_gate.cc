#include "job/memory_gate.h"

#include <unistd.h>

#include <algorithm>
#include <chrono>

namespace samelight::job {

MemoryGate::Admission::~Admission() {
  if (gate_ == nullptr) return;
  {
    const std::lock_guard lock(gate_->mutex_);
    gate_->used_ -= bytes_;
  }
  gate_->freed_.notify_all();
}

MemoryGate::Admission MemoryGate::Admit(std::uint64_t bytes, const Cancel& cancel) {
  std::unique_lock lock(mutex_);
  while (used_ != 0 && used_ + bytes > budget_) {
    if (cancel.requested()) return {nullptr, 0};
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

std::uint64_t WorkingBytes(const record::Photo& photo, bool full) {
  const std::uint64_t pixels =
      static_cast<std::uint64_t>(photo.width_px) * static_cast<std::uint64_t>(photo.height_px);
  const bool raw = photo.encoding == record::Encoding::kRaw;
  // Bytes per pixel. Decoding: the file's own samples (2), the decoder's picture (8 for raw, 6), the float
  // picture and one more while it is turned or straightened (24). Rendering adds the encoded pixels (6) and
  // the encoder's file (up to 6).
  const std::uint64_t decode = raw ? 2 + 8 + 24 : 6 + 24;
  return photo.bytes + pixels * (full ? decode + 12 : decode);
}

}  // namespace samelight::job
