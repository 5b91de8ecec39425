// Synthetic truth: what a known correction shows, from a correction whose offsets were moved.
#include "bench/refit.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "look/evaluate.h"
#include "solve/left_over.h"

namespace samelight::bench {
namespace {

TEST(RefitOffsets, FindsTheOffsetsThatMadeTheTruth) {
  record::Correction known;
  known.look = look::NeutralLook();
  known.offset_log10 = {0.1, -0.05, 0.02};
  Truth truth;
  Pictures pictures;
  std::map<int, record::Correction> moved;
  std::mt19937 dice(7);
  for (int f = 0; f < 3; ++f) {
    truth.frames.emplace_back().light = f / 2;
    FramePicture& frame = pictures.frames.emplace_back();
    frame.linear.Resize(120, 90);
    frame.truth.Resize(120, 90);
    const look::Resolved resolved = look::Resolve(known);
    for (std::size_t i = 0; i < frame.linear.pixels(); ++i) {
      Vec3 v;
      for (double& x : v) x = std::exp2(-5.0 + 4.0 * (dice() / 4294967296.0));
      const Vec3 lab = solve::LabOfDisplay(look::Evaluate(resolved, v));
      for (int c = 0; c < 3; ++c) {
        frame.linear.data()[3 * i + c] = static_cast<float>(v[c]);
        frame.truth.data()[3 * i + c] = static_cast<float>(lab[c]);
      }
    }
    moved[f] = known;
    for (int c = 0; c < 3; ++c) moved[f].offset_log10[c] += 0.08 * (c - 1) + (f == 2 ? 0.1 : 0);
  }
  for (RefitBy by : {RefitBy::kLight, RefitBy::kFrame})
    for (const auto& [frame, correction] : RefitOffsets(moved, truth, pictures, by))
      for (int c = 0; c < 3; ++c)
        EXPECT_NEAR(correction.offset_log10[c], known.offset_log10[c], 1e-3) << frame;
}

}  // namespace
}  // namespace samelight::bench
