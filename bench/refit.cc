#include "bench/refit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <mutex>

#include "base/task_pool.h"
#include "look/evaluate.h"
#include "solve/left_over.h"

namespace samelight::bench {
namespace {

constexpr int kEvery = 83;  // pixels
constexpr int kRounds = 8;
constexpr double kStep = 0.01, kMost = 0.3;  // log10

// Adds a frame's part of the normal equations for a change of its three offsets; returns its squared error.
double Gather(const record::Correction& correction, const FramePicture& frame, Eigen::Matrix3d* jtj,
              Eigen::Vector3d* jtr) {
  look::Resolved moved[4];
  for (int k = 0; k < (jtj ? 4 : 1); ++k) {
    record::Correction c = correction;
    if (k > 0) c.offset_log10[k - 1] += kStep;
    moved[k] = look::Resolve(c);
  }
  double sum = 0;
  for (std::size_t i = 0; i < frame.linear.pixels(); i += kEvery) {
    const float* p = frame.linear.data().data() + 3 * i;
    const float* want = frame.truth.data().data() + 3 * i;
    const Vec3 pixel{p[0], p[1], p[2]};
    const double ease = 1 + 0.045 * std::hypot(want[1], want[2]);
    const double scale[3] = {1, 1 / ease, 1 / ease};
    const auto residual = [&](const look::Resolved& r) {
      const Vec3 lab = solve::LabOfDisplay(look::Evaluate(r, pixel));
      Eigen::Vector3d e;
      for (int c = 0; c < 3; ++c) e[c] = scale[c] * (lab[c] - want[c]);
      return e;
    };
    const Eigen::Vector3d e = residual(moved[0]);
    sum += e.squaredNorm();
    if (!jtj) continue;
    Eigen::Matrix3d j;
    for (int k = 0; k < 3; ++k) j.col(k) = (residual(moved[k + 1]) - e) / kStep;
    *jtj += j.transpose() * j;
    *jtr += j.transpose() * e;
  }
  return sum;
}

}  // namespace

std::map<int, record::Correction> RefitOffsets(const std::map<int, record::Correction>& corrections,
                                               const Truth& truth, const Pictures& pictures, RefitBy by) {
  std::map<int, std::vector<int>> groups;
  for (const auto& [frame, correction] : corrections)
    groups[by == RefitBy::kFrame ? frame : truth.frames[frame].light].push_back(frame);
  std::vector<std::vector<int>> list;
  for (auto& [key, frames] : groups) list.push_back(frames);
  std::map<int, record::Correction> out = corrections;
  ParallelFor(list.size(), {}, [&](std::size_t g) {
    double damping = 1e-3;
    for (int round = 0; round < kRounds; ++round) {
      Eigen::Matrix3d jtj = Eigen::Matrix3d::Zero();
      Eigen::Vector3d jtr = Eigen::Vector3d::Zero();
      double before = 0, after = 0;
      for (int f : list[g]) before += Gather(out.at(f), pictures.frames[f], &jtj, &jtr);
      jtj.diagonal() *= 1 + damping;
      const Eigen::Vector3d step = (-jtj.ldlt().solve(jtr)).cwiseMax(-kMost).cwiseMin(kMost);
      std::vector<record::Correction> tried;
      for (int f : list[g]) {
        tried.push_back(out.at(f));
        for (int c = 0; c < 3; ++c) tried.back().offset_log10[c] += step[c];
        after += Gather(tried.back(), pictures.frames[f], nullptr, nullptr);
      }
      if (after < before) {
        for (std::size_t k = 0; k < tried.size(); ++k) out.at(list[g][k]) = tried[k];
        if (after > before * (1 - 1e-4)) break;
        damping *= 0.3;
      } else {
        damping *= 10;
      }
    }
  });
  return out;
}

}  // namespace samelight::bench
