// Lets pictures into work only as far as memory allows.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>

#include "base/cancel.h"
#include "codec/read.h"
#include "codec/write.h"
#include "record/photo.h"

namespace samelight::job {

// A budget in bytes shared by workers. Thread safe.
class MemoryGate {
 public:
  explicit MemoryGate(std::uint64_t budget_bytes) : budget_(budget_bytes) {}

  // A place in memory; given back when it goes away.
  class Admission {
   public:
    Admission(Admission&& other) noexcept : gate_(other.gate_), bytes_(other.bytes_) {
      other.gate_ = nullptr;
    }
    Admission& operator=(Admission&&) = delete;
    ~Admission();
    // False: `cancel` was requested while waiting; nothing was admitted.
    explicit operator bool() const { return gate_ != nullptr; }
    // Gives back what is above `bytes`.
    void ShrinkTo(std::uint64_t bytes);

   private:
    friend class MemoryGate;
    Admission(MemoryGate* gate, std::uint64_t bytes) : gate_(gate), bytes_(bytes) {}
    MemoryGate* gate_;
    std::uint64_t bytes_;
  };

  // Waits until `bytes` fit beside what is admitted. What is larger than the whole budget is admitted alone,
  // so that every picture gets its turn. `make_room` is called, from time to time, while they do not fit; it
  // may give admissions back.
  Admission Admit(std::uint64_t bytes, const Cancel& cancel, const std::function<void()>& make_room = {});
  std::uint64_t budget() const { return budget_; }

 private:
  std::mutex mutex_;
  std::condition_variable freed_;
  std::uint64_t budget_, used_ = 0;
};

// `mib` from a setting; 0: a quarter of the machine's memory.
std::uint64_t BudgetBytes(std::uint64_t mib);

// An upper estimate of what is held at once while `photo` is read and looked at.
std::uint64_t WorkingBytes(const record::Photo& photo, const codec::ReadOptions& read);

// The same while it is read, framed, rendered in at most `long_side_px` (0: all it has) and written, with
// buffers that are kept from picture to picture.
std::uint64_t WorkingBytes(const record::Photo& photo, const codec::ReadOptions& read, bool framed,
                           int long_side_px, bool sixteen_bits, const codec::WriteOptions& write);

}  // namespace samelight::job
