// Derivatives against central differences, and the prediction against the renderer's own equations.
#include "solve/predict.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "look/evaluate.h"
#include "solve/left_over.h"

namespace samelight::solve {
namespace {

// Looks of ordinary size (invented), drawn within the prior.
PredictVector SomeNumbers(std::mt19937& random) {
  std::normal_distribution<double> normal;
  const LookVector mean = LookPriorMean(), sigma = LookPriorSigma();
  PredictVector p;
  for (int i = 0; i < kLookSize; ++i) p[i] = mean[i] + 0.5 * sigma[i] * normal(random);
  for (int c = 0; c < 3; ++c) p[kOffsetAt + c] = 0.3 + 0.1 * normal(random);
  p[kContrastAt] = 0.03 * normal(random);
  p[kBlackAt] = 0.05 * normal(random);
  return p;
}

TEST(Predict, DerivativesAreThoseOfSmallDifferences) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> u(-2.2, 0.1);
  for (int round = 0; round < 40; ++round) {
    const PredictVector p = SomeNumbers(random);
    const double level = u(random);
    Vec3 scene;
    for (double& v : scene) v = std::pow(10.0, level + 0.12 * u(random));
    PredictJacobian j;
    const Vec3 lab = PredictLab(p, scene, j);
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(lab[c], PredictLab(p, scene)[c], 1e-9);
    for (int i = 0; i < kPredictSize; ++i) {
      const double step = 1e-5;
      PredictVector up = p, down = p;
      up[i] += step;
      down[i] -= step;
      const Vec3 a = PredictLab(up, scene), b = PredictLab(down, scene);
      for (int c = 0; c < 3; ++c)
        EXPECT_NEAR(j[c][i], (a[c] - b[c]) / (2 * step), 1e-4 * (1 + std::abs(j[c][i])))
            << "number " << i << ", coordinate " << c;
    }
  }
}

TEST(Predict, IsWhatTheRendererMakes) {
  std::mt19937 random(6);
  PredictVector p = SomeNumbers(random);
  p[kContrastAt] = p[kBlackAt] = 0;
  LookVector look;
  std::copy_n(p.begin(), kLookSize, look.begin());
  record::Correction correction;
  correction.look = RecordFrom(look);
  for (int c = 0; c < 3; ++c) correction.offset_log10[c] = p[kOffsetAt + c];
  const Vec3 scene{0.12, 0.10, 0.08};
  const Vec3 shown = LabOfDisplay(look::Evaluate(look::Resolve(correction), scene));
  const Vec3 predicted = PredictLab(p, scene);
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(predicted[c], shown[c], 0.01);
}

}  // namespace
}  // namespace samelight::solve
