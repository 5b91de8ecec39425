#include "bench/colour_table.h"

#include <gtest/gtest.h>

#include <random>

#include "bench/references.h"
#include "bench/score.h"

namespace samelight::bench {
namespace {

image::RgbF RandomLinear(unsigned seed, int width, int height) {
  std::mt19937 dice(seed);
  image::RgbF out(width, height);
  for (float& v : out.data()) v = std::exp2(-6.0f + 6.0f * static_cast<float>(dice() / 4294967296.0));
  return out;
}

// A smooth invented rendering: gain, channel mix and a curve.
LabF Rendered(const image::RgbF& linear, double gain) {
  image::RgbF mixed(linear.width(), linear.height());
  for (std::size_t i = 0; i < linear.pixels(); ++i) {
    const float* p = linear.data().data() + 3 * i;
    const double m[3] = {0.8 * p[0] + 0.2 * p[1], 0.1 * p[0] + 0.8 * p[1] + 0.1 * p[2],
                         0.25 * p[1] + 0.75 * p[2]};
    for (int c = 0; c < 3; ++c) {
      const double x = std::pow(m[c] * gain, 1.2);
      mixed.data()[3 * i + c] = static_cast<float>(x / (x + 0.3));
    }
  }
  return LabOfLinear(mixed);
}

TEST(ColourTable, LearnsASmoothRendering) {
  const image::RgbF linear = RandomLinear(1, 300, 200), other = RandomLinear(2, 60, 60);
  ColourTable table;
  table.Add(linear, 1, Rendered(linear, 1));
  table.Fit(0.01);
  EXPECT_LT(Compare(table.Apply(linear, 1), Rendered(linear, 1), {}).mean, 0.5);
  // Colours that it was not fitted on.
  EXPECT_LT(Compare(table.Apply(other, 1), Rendered(other, 1), {}).mean, 0.7);
}

TEST(References, FindTheExposureOfEachFrame) {
  std::vector<FramePicture> frames(3);
  const double exposed[] = {0.5, 1.0, 1.8};
  for (int i = 0; i < 3; ++i) {
    frames[i].linear = RandomLinear(10 + i, 120, 80);
    frames[i].truth = Rendered(frames[i].linear, 1);
    for (float& v : frames[i].linear.data()) v *= static_cast<float>(exposed[i]);
    frames[i].scene_referred = true;
  }
  const std::vector<LabF> made = TablePerLight({&frames[0], &frames[1], &frames[2]});
  for (int i = 0; i < 3; ++i) EXPECT_LT(Compare(made[i], frames[i].truth, {}).mean, 0.8) << i;
  EXPECT_LT(Compare(TablePerFrame(frames[0]), frames[0].truth, {}).mean, 0.8);
}

// Frames of one body whose as-shot whites differ are brought to one white first.
TEST(References, OneWhitePerSource) {
  std::vector<FramePicture> frames(2);
  for (int i = 0; i < 2; ++i) {
    frames[i].linear = RandomLinear(20 + i, 120, 80);
    frames[i].truth = Rendered(frames[i].linear, 1);
    frames[i].scene_referred = true;
    frames[i].as_shot = i == 0 ? Vec3{2.0, 1, 1.5} : Vec3{1.7, 1, 1.8};
    for (std::size_t k = 0; k < frames[i].linear.data().size(); ++k)
      frames[i].linear.data()[k] *= static_cast<float>(frames[i].as_shot[k % 3]);
  }
  const std::vector<LabF> made = TablePerLight({&frames[0], &frames[1]});
  for (int i = 0; i < 2; ++i) EXPECT_LT(Compare(made[i], frames[i].truth, {}).mean, 0.8) << i;
}

}  // namespace
}  // namespace samelight::bench
