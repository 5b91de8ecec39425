// The normal equations of the film fit, kept in blocks and solved from the inside out: every scan's nudge is
// eliminated, then every light's own numbers, and what is left are the looks (block elimination of a matrix
// with an arrow's shape; Nocedal and Wright, Numerical Optimization, 2nd ed., 10.3 and appendix A.1).
#pragma once

#include <Eigen/Dense>
#include <vector>

#include "solve/film_fit.h"

namespace samelight::solve {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;
using PredictMatrix = Eigen::Matrix<double, kPredictSize, kPredictSize>;
using PredictNumbers = Eigen::Matrix<double, kPredictSize, 1>;
using NudgeMatrix = Eigen::Matrix<double, kNudgeSize, kNudgeSize>;
using NudgeNumbers = Eigen::Matrix<double, kNudgeSize, 1>;

// Where a light's own numbers stand in its block.
inline constexpr int kLightTrend = 3, kLightLook = 6, kLightSize = kLightLook + kLookSize;
inline constexpr int kContentSize = 2;  // level_part, grey_part

// Where the looks stand: the common one, every roll's difference, the content parts.
struct LooksLayout {
  int rolls = 0;
  static constexpr int Common() { return 0; }
  int Roll(int r) const { return kLookSize * (1 + r); }
  int Content() const { return kLookSize * (1 + rolls); }
  int size() const { return Content() + kContentSize; }
};

struct FilmEquations {
  // Of a prediction's numbers, and of the nudge that is a part of them (its belief alone).
  struct OfScan {
    PredictMatrix matrix;
    PredictNumbers gradient;
    NudgeMatrix nudge;
    NudgeNumbers nudge_gradient;
  };
  // What is believed of the looks and lights before any scan is read.
  Matrix looks;
  Vector looks_gradient;
  std::vector<Matrix> lights;
  std::vector<Vector> lights_gradient;
  std::vector<OfScan> scans;

  FilmEquations(const FilmSession& session, std::size_t scan_count);
};

// What a damped step moves.
struct FilmStep {
  Vector looks;
  std::vector<Vector> lights;
  std::vector<NudgeNumbers> nudges;
};
// `damping`: added to every diagonal, in proportion to it. `hold_looks`: only the lights' own numbers and the
// nudges move.
FilmStep StepOf(const FilmSession& session, const FilmEquations& equations, double damping,
                bool hold_looks = false);

// Fills the covariances of `fit`: the inverse of the equations' matrix.
void Invert(const FilmSession& session, const FilmEquations& equations, FilmFit& fit);

}  // namespace samelight::solve
