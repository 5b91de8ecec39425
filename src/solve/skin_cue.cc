#include "solve/skin_cue.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace samelight::solve {
namespace {

constexpr double kLeastSpread = 4, kUsualSpread = 6;  // CIELAB, of a* and b*
constexpr int kRounds = 4;

// Red and blue against green, with no change of the mean.
Vec3 Moved(const Vec3& offset, const Eigen::Vector2d& by) {
  return {offset[0] + (2 * by[0] - by[1]) / 3, offset[1] - (by[0] + by[1]) / 3,
          offset[2] + (2 * by[1] - by[0]) / 3};
}

Eigen::Vector2d ChromaOf(const LookVector& look, const Vec3& offset, const Vec3& scene) {
  const Vec3 lab = PredictLab(look, offset, scene);
  return {lab[1], lab[2]};
}

}  // namespace

OffsetPrior WithSkinCue(const OffsetPrior& belief, const LookVector& look, const Vec3& skin_scene,
                        const std::vector<Vec3>& seen) {
  if (seen.empty()) return belief;
  const double count = static_cast<double>(seen.size());
  Eigen::Vector2d middle = Eigen::Vector2d::Zero();
  for (const Vec3& lab : seen) middle += Eigen::Vector2d(lab[1], lab[2]) / count;
  double square = 2 * kUsualSpread * kUsualSpread;  // counts as one light
  for (const Vec3& lab : seen) square += (Eigen::Vector2d(lab[1], lab[2]) - middle).squaredNorm();
  const double spread = std::max(kLeastSpread, std::sqrt(0.5 * square / count)) * std::sqrt(1 + 1 / count);

  const double prior = 1 / (belief.colour_sigma * belief.colour_sigma);
  Eigen::Vector2d by = Eigen::Vector2d::Zero();
  Eigen::Matrix2d information = prior * Eigen::Matrix2d::Identity();
  for (int round = 0; round < kRounds; ++round) {
    const Eigen::Vector2d away = middle - ChromaOf(look, Moved(belief.mean, by), skin_scene);
    Eigen::Matrix2d j;
    constexpr double kStep = 1e-4;
    for (int k = 0; k < 2; ++k) {
      const Eigen::Vector2d step = kStep * Eigen::Vector2d::Unit(k);
      j.col(k) = (ChromaOf(look, Moved(belief.mean, by + step), skin_scene) -
                  ChromaOf(look, Moved(belief.mean, by - step), skin_scene)) /
                 (2 * kStep);
    }
    const double weight = 1 / (spread * spread * (1 + away.squaredNorm() / (4 * spread * spread)));
    information = prior * Eigen::Matrix2d::Identity() + weight * j.transpose() * j;
    by += information.ldlt().solve(weight * j.transpose() * away - prior * by);
  }
  if (!by.allFinite()) return belief;
  OffsetPrior out = belief;
  out.mean = Moved(belief.mean, by);
  out.colour_sigma = std::sqrt(0.5 * information.inverse().trace());
  return out;
}

}  // namespace samelight::solve
