// The normal equations of the film fit, kept in blocks and solved from the inside out: every scan's nudge is
// eliminated, then every light's own numbers, and what is left are the looks (block elimination of a matrix
// with an arrow's shape; Nocedal and Wright, Numerical Optimization, 2nd ed., 10.3 and appendix A.1).
#pragma once

#include <vector>

#include "solve/film_fit.h"

namespace samelight::solve {

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

// Normal equations of some numbers: a symmetric matrix, and the gradient.
struct EquationBlock {
  std::vector<double> matrix, gradient;
  explicit EquationBlock(int size)
      : matrix(static_cast<std::size_t>(size) * size, 0.0), gradient(static_cast<std::size_t>(size), 0.0) {}
};

struct FilmEquations {
  // What is believed of the looks and lights before any scan is read.
  EquationBlock looks;
  std::vector<EquationBlock> lights;
  // Of a prediction's numbers, and of the nudge that is a part of them (its belief alone).
  struct OfScan {
    EquationBlock prediction{kPredictSize}, nudge{kNudgeSize};
  };
  std::vector<OfScan> scans;

  FilmEquations(const FilmSession& session, std::size_t scan_count);
};

// What a damped step moves.
struct FilmStep {
  std::vector<double> looks;
  std::vector<std::vector<double>> lights, nudges;
};
// `damping`: added to every diagonal, in proportion to it. `hold_looks`: only the lights' own numbers and the
// nudges move.
FilmStep StepOf(const FilmSession& session, const FilmEquations& equations, double damping,
                bool hold_looks = false);

// Fills the covariances of `fit`: the inverse of the equations' matrix.
void Invert(const FilmSession& session, const FilmEquations& equations, FilmFit& fit);

}  // namespace samelight::solve
