// Rendering takes no large memory once a thread is warm: every allocation of this test program is counted.
// Sanitizers have allocation functions of their own; the release build runs this test.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#include <gtest/gtest.h>

#include <atomic>
#include <cstdlib>
#include <new>

#include "render/grain.h"
#include "render/render.h"
#include "render/samples_test.h"

namespace {
constexpr std::size_t kLarge = 64 * 1024;
std::atomic<int> g_large = 0;

void* Allocate(std::size_t size, std::size_t alignment) {
  if (size >= kLarge) ++g_large;
  void* memory = alignment == 0
                     ? std::malloc(size)
                     : std::aligned_alloc(alignment, (size + alignment - 1) / alignment * alignment);
  if (memory == nullptr) throw std::bad_alloc();
  return memory;
}
}  // namespace

void* operator new(std::size_t size) { return Allocate(size, 0); }
void* operator new[](std::size_t size) { return Allocate(size, 0); }
void* operator new(std::size_t size, std::align_val_t alignment) {
  return Allocate(size, static_cast<std::size_t>(alignment));
}
void* operator new[](std::size_t size, std::align_val_t alignment) {
  return Allocate(size, static_cast<std::size_t>(alignment));
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete[](void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete(void* memory, std::align_val_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::align_val_t) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t, std::align_val_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t, std::align_val_t) noexcept { std::free(memory); }

namespace samelight::render {
namespace {

TEST(Allocation, NoLargeOneAfterTheFirstFrame) {
  image::RgbF picture(900, 700);
  Dice dice(1);
  for (float& v : picture.data()) v = static_cast<float>(dice.Between(0, 1));
  for (const bool display_referred : {false, true}) {
    RenderOptions options;
    options.grain.on = true;
    options.grain.model = FilmGrain(6, 12, 36);
    options.acutance.gain = 0.5;
    image::RgbU8 out;
    // The largest tables come first, as they may for the first frame of a session.
    for (const unsigned seed : {3u, 2u, 1u})
      ASSERT_TRUE(Render(picture, RandomCorrection(seed, display_referred), options, out).ok());
    const int before = g_large;
    for (const unsigned seed : {1u, 2u, 3u}) {
      options.grain.seed = seed;
      ASSERT_TRUE(Render(picture, RandomCorrection(seed, display_referred), options, out).ok());
    }
    EXPECT_EQ(g_large - before, 0) << (display_referred ? "display-referred" : "scene-referred");
  }
}

}  // namespace
}  // namespace samelight::render
#endif
