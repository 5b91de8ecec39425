#include "solve/spread.h"

#include <Eigen/Dense>
#include <cmath>

#include "color/difference.h"
#include "solve/hold_grey.h"
#include "solve/predict.h"
#include "solve/shown.h"

namespace samelight::solve {
namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

using OfStray = Eigen::Matrix<double, kSpreadSize, kLookSize>;

// What a difference from the common look does to look and offsets.
const OfStray& ByStray() {
  static const OfStray by = [] {
    OfStray m = OfStray::Identity();
    const GreyHold& hold = HoldGrey();
    for (int c = 0; c < 3; ++c)
      for (int k = 0; k < kLookSize; ++k) m(kLookSize + c, k) = hold[c][k];
    return m;
  }();
  return by;
}

// Look and offsets as a linear function of the fit's looks.
Matrix ByLooks(const FilmFit& fit, const std::vector<double>& shares) {
  Matrix rows = Matrix::Zero(kSpreadSize, fit.LooksSize());
  rows.topLeftCorner<kLookSize, kLookSize>().setIdentity();
  for (std::size_t r = 0; r < shares.size(); ++r)
    rows.middleCols<kLookSize>(kLookSize * (1 + static_cast<int>(r))) = shares[r] * ByStray();
  return rows;
}

// How the looks of several possible rolls differ.
void AddBetween(const FilmFit& fit, const std::vector<double>& shares, Matrix& spread) {
  using Numbers = Eigen::Matrix<double, kLookSize, 1>;
  Numbers mean = Numbers::Zero();
  for (std::size_t r = 0; r < shares.size(); ++r)
    mean += shares[r] * Eigen::Map<const Numbers>(fit.roll[r].data());
  for (std::size_t r = 0; r < shares.size(); ++r) {
    const Eigen::Matrix<double, kSpreadSize, 1> away =
        ByStray() * (Eigen::Map<const Numbers>(fit.roll[r].data()) - mean);
    spread += shares[r] * away * away.transpose();
  }
}

Spread Flat(const Matrix& m) { return {m.data(), m.data() + m.size()}; }

Eigen::Map<const Matrix> Covariance(const std::vector<double>& numbers, int rows) {
  return {numbers.data(), rows, static_cast<Eigen::Index>(numbers.size()) / rows};
}

Matrix InverseOf(const std::vector<double>& information) {
  return Covariance(information, kLookSize).llt().solve(Matrix::Identity(kLookSize, kLookSize));
}

// Every handle that the solve sets.
template <class F>
void ForEach(F&& f, record::Handles& a, const record::Handles& b, const record::Handles& c) {
  using H = record::Handles;
  for (double H::*const field : {&H::exposure_ev, &H::warmth_mired, &H::green_magenta, &H::gamma, &H::toe,
                                 &H::shoulder, &H::black_density, &H::chroma})
    f(a.*field, b.*field, c.*field);
  using B = record::HueBump;
  for (std::size_t i = 0; i < a.hues.size(); ++i)
    for (double B::*const field : {&B::hue_deg, &B::chroma, &B::lightness})
      f(a.hues[i].*field, b.hues[i].*field, c.hues[i].*field);
}

record::Handles HandlesOf(const LookVector& look, const Vec3& offset) {
  record::Correction c;
  c.look = RecordFrom(look);
  c.offset_log10 = offset;
  return ShownHandles(c);
}

Eigen::Vector3d GreyUnder(const LookVector& look, const Vec3& offset) {
  const Vec3 lab = PredictLab(look, offset, kUsualColours[2]);
  return {lab[0], lab[1], lab[2]};
}

// Change of CIELAB of a grey by each offset (log10).
Eigen::Matrix3d GreyByOffsets(const LookVector& look, const Vec3& offset) {
  constexpr double kStep = 1e-4;
  Eigen::Matrix3d j;
  for (int c = 0; c < 3; ++c) {
    Vec3 up = offset, down = offset;
    up[c] += kStep;
    down[c] -= kStep;
    j.col(c) = (GreyUnder(look, up) - GreyUnder(look, down)) / (2 * kStep);
  }
  return j;
}

}  // namespace

Spread SpreadOfFilmed(const FilmFit& fit, const std::vector<double>& shares, int light) {
  const Matrix by_looks = ByLooks(fit, shares);
  // Of the light's own look and offsets.
  Matrix by_own = Matrix::Zero(kSpreadSize, kSpreadSize);
  by_own.leftCols<kLookSize>() = ByStray();
  by_own.bottomRightCorner<3, 3>().setIdentity();
  const FilmFit::OfLight& of = fit.light_covariance[static_cast<std::size_t>(light)];
  const Matrix both = by_own * Covariance(of.with_looks, kSpreadSize) * by_looks.transpose();
  Matrix spread = by_looks * Covariance(fit.looks_covariance, fit.LooksSize()) * by_looks.transpose() +
                  by_own * Covariance(of.own, kSpreadSize) * by_own.transpose() + both + both.transpose();
  AddBetween(fit, shares, spread);
  return Flat(spread);
}

Spread SpreadOfCarried(const FilmFit& fit, const std::vector<double>& shares, const OffsetPrior& offsets,
                       const LookBelief& before) {
  Matrix spread = Matrix::Zero(kSpreadSize, kSpreadSize);
  if (fit.usable) {
    const Matrix by_looks = ByLooks(fit, shares);
    spread = by_looks * Covariance(fit.looks_covariance, fit.LooksSize()) * by_looks.transpose();
    AddBetween(fit, shares, spread);
  } else {
    spread.topLeftCorner<kLookSize, kLookSize>() = InverseOf(before.information);
  }
  static const Matrix own = InverseOf(LookPriorInformation(kLookShare));
  spread += ByStray() * own * ByStray().transpose();  // of the light's own look, which nothing tells
  const double level = offsets.level_sigma * offsets.level_sigma;
  const double colour = 0.5 * offsets.colour_sigma * offsets.colour_sigma;  // of one layer against the mean
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      spread(kLookSize + i, kLookSize + j) = level + colour * ((i == j ? 1.0 : 0.0) - 1.0 / 3);
  return Flat(spread);
}

record::Uncertainty UncertaintyOf(const LookVector& look, const Vec3& offset_log10, const Spread& spread) {
  const Eigen::SelfAdjointEigenSolver<Matrix> axes(
      Matrix(Eigen::Map<const Matrix>(spread.data(), kSpreadSize, kSpreadSize)));
  record::Uncertainty u;
  const record::Handles middle = HandlesOf(look, offset_log10);
  const Eigen::Vector3d grey = GreyUnder(look, offset_log10);
  const auto by_offsets = GreyByOffsets(look, offset_log10).fullPivLu();
  for (int k = 0; k < kSpreadSize; ++k) {
    const double s = std::sqrt(std::max(0.0, axes.eigenvalues()[k]));
    if (!(s > 0)) continue;
    LookVector moved = look;
    Vec3 offset = offset_log10;
    for (int i = 0; i < kLookSize; ++i) moved[i] += s * axes.eigenvectors()(i, k);
    for (int c = 0; c < 3; ++c) offset[c] += s * axes.eigenvectors()(kLookSize + c, k);
    // Curves and offsets trade with each other: exposure and white are as unsure as the grey that they make
    // together.
    const Eigen::Vector3d needed = by_offsets.solve(GreyUnder(moved, offset) - grey);
    Vec3 corrected = offset_log10;
    for (int c = 0; c < 3; ++c) corrected[c] += needed[c];
    const record::Handles picture = HandlesOf(look, corrected);
    record::Handles now = HandlesOf(moved, offset);
    now.exposure_ev = picture.exposure_ev;
    now.warmth_mired = picture.warmth_mired;
    now.green_magenta = picture.green_magenta;
    ForEach([](double& sum, double after, double before) { sum += (after - before) * (after - before); },
            u.handles, now, middle);
    const auto colour = [&](const Vec3& scene) {
      const double d =
          color::Ciede2000(PredictLab(moved, offset, scene), PredictLab(look, offset_log10, scene));
      return d * d;
    };
    u.skin += colour(kUsualColours[0]);
    u.foliage += colour(kUsualColours[1]);
    u.neutral += colour(kUsualColours[2]);
  }
  ForEach([](double& sum, double, double) { sum = std::sqrt(sum); }, u.handles, middle, middle);
  for (double* v : {&u.skin, &u.foliage, &u.neutral}) *v = std::sqrt(*v);
  return u;
}

void AddOwnDoubt(const LookVector& look, const Vec3& offset_log10, const OwnDoubt& doubt,
                 record::Uncertainty& u) {
  const record::Handles middle = HandlesOf(look, offset_log10);
  const Vec3 axes[] = {{doubt.level, doubt.level, doubt.level}, {doubt.colour, 0, 0}, {0, 0, doubt.colour}};
  for (const Vec3& axis : axes) {
    Vec3 moved = offset_log10;
    for (int c = 0; c < 3; ++c) moved[c] += axis[c];
    const record::Handles now = HandlesOf(look, moved);
    const auto add = [](double& spread, double by) { spread = std::hypot(spread, by); };
    add(u.handles.exposure_ev, now.exposure_ev - middle.exposure_ev);
    add(u.handles.warmth_mired, now.warmth_mired - middle.warmth_mired);
    add(u.handles.green_magenta, now.green_magenta - middle.green_magenta);
    double* const colour[] = {&u.skin, &u.foliage, &u.neutral};
    for (std::size_t k = 0; k < kUsualColours.size(); ++k)
      add(*colour[k], color::Ciede2000(PredictLab(look, moved, kUsualColours[k]),
                                       PredictLab(look, offset_log10, kUsualColours[k])));
  }
}

}  // namespace samelight::solve
