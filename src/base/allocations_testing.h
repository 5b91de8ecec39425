// Counts the large allocations of a test program: C++'s own allocation functions, replaced. To be included by
// one file of a program, and not under sanitizers, which replace them too.
#pragma once

#include <atomic>
#include <cstddef>
#include <cstdlib>
#include <new>

namespace samelight::testing {

// Allocations of at least `least` bytes since the program started.
struct Allocations {
  std::atomic<std::size_t> least = 64 * 1024;
  std::atomic<long> count = 0;
};
inline Allocations g_allocations;

inline void* Allocate(std::size_t size, std::size_t alignment) {
  if (size >= g_allocations.least) ++g_allocations.count;
  void* memory = alignment == 0
                     ? std::malloc(size)
                     : std::aligned_alloc(alignment, (size + alignment - 1) / alignment * alignment);
  if (memory == nullptr) throw std::bad_alloc();
  return memory;
}

}  // namespace samelight::testing

void* operator new(std::size_t size) { return samelight::testing::Allocate(size, 0); }
void* operator new[](std::size_t size) { return samelight::testing::Allocate(size, 0); }
void* operator new(std::size_t size, std::align_val_t alignment) {
  return samelight::testing::Allocate(size, static_cast<std::size_t>(alignment));
}
void* operator new[](std::size_t size, std::align_val_t alignment) {
  return samelight::testing::Allocate(size, static_cast<std::size_t>(alignment));
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete[](void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete(void* memory, std::align_val_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::align_val_t) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t, std::align_val_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t, std::align_val_t) noexcept { std::free(memory); }
