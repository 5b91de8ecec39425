// Rendering takes no large memory once a thread is warm: every allocation of this test program is counted.
// Sanitizers have allocation functions of their own; the release build runs this test.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#include <gtest/gtest.h>

#include "base/allocations_testing.h"
#include "render/grain.h"
#include "render/render.h"
#include "render/samples_test.h"

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
    const long before = samelight::testing::g_allocations.count;
    for (const unsigned seed : {1u, 2u, 3u}) {
      options.grain.seed = seed;
      ASSERT_TRUE(Render(picture, RandomCorrection(seed, display_referred), options, out).ok());
    }
    EXPECT_EQ(samelight::testing::g_allocations.count - before, 0)
        << (display_referred ? "display-referred" : "scene-referred");
  }
}

}  // namespace
}  // namespace samelight::render
#endif
