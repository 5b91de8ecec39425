// A part of a picture is rendered as it is in the whole.
#include <gtest/gtest.h>

#include <algorithm>

#include "render/grain.h"
#include "render/render.h"
#include "render/samples_test.h"

namespace samelight::render {
namespace {

TEST(RenderPart, TheSamePixelsAsInTheWhole) {
  image::RgbF in(1300, 90);
  const std::vector<Vec3> colours = TestColours(false, 20);
  for (std::size_t i = 0; i < in.pixels(); ++i)
    for (int c = 0; c < 3; ++c)
      in.data()[3 * i + c] = static_cast<float>(colours[(i / 7) % colours.size()][c]);
  const record::Correction correction = RandomCorrection(3, false);
  RenderOptions options;
  options.acutance.gain = 0.6;
  options.grain = {true, FilmGrain(12, 8, 36), 1, 1, 77};
  const auto whole = Render8(in, correction, options);
  ASSERT_TRUE(whole.ok());
  // Across strips, in the middle, and at every border.
  for (const Part part :
       {Part{500, 20, 600, 30}, Part{0, 0, 5, 5}, Part{1290, 80, 10, 10}, Part{0, 0, 1300, 90}}) {
    options.part = part;
    const auto some = Render8(in, correction, options);
    ASSERT_TRUE(some.ok());
    ASSERT_EQ(some->width(), part.width);
    ASSERT_EQ(some->height(), part.height);
    for (int y = 0; y < part.height; ++y)
      ASSERT_TRUE(std::equal(some->row(y), some->row(y) + 3 * part.width, whole->at(part.x, part.y + y)))
          << "part at " << part.x << "," << part.y << " row " << y;
  }
  options.part = {1295, 0, 10, 10};
  EXPECT_EQ(Render8(in, correction, options).error().code, ErrorCode::kInvalidArgument);
  options.part = {0, 0, 10, 10};
  options.long_side_px = 100;
  EXPECT_EQ(Render8(in, correction, options).error().code, ErrorCode::kInvalidArgument);
}

}  // namespace
}  // namespace samelight::render
