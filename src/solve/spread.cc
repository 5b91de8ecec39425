#include "solve/spread.h"

#include <Eigen/Dense>
#include <cmath>

#include "color/difference.h"
#include "solve/predict.h"
#include "solve/shown.h"

namespace samelight::solve {
namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

// The look as a linear function of the fit's list of numbers, and how the possible looks differ.
Matrix LookRows(const FilmFit& fit, const std::vector<double>& shares) {
  Matrix rows = Matrix::Zero(kSpreadSize, fit.CovarianceSize());
  for (int k = 0; k < kLookSize; ++k) {
    rows(k, k) = 1;
    for (std::size_t r = 0; r < shares.size(); ++r)
      rows(k, kLookSize * (1 + static_cast<int>(r)) + k) = shares[r];
  }
  return rows;
}

void AddBetween(const FilmFit& fit, const std::vector<double>& shares, Matrix& spread) {
  Eigen::Matrix<double, kLookSize, 1> mean = Eigen::Matrix<double, kLookSize, 1>::Zero();
  for (std::size_t r = 0; r < shares.size(); ++r)
    mean += shares[r] * Eigen::Map<const Eigen::Matrix<double, kLookSize, 1>>(fit.roll[r].data());
  for (std::size_t r = 0; r < shares.size(); ++r) {
    const Eigen::Matrix<double, kLookSize, 1> away =
        Eigen::Map<const Eigen::Matrix<double, kLookSize, 1>>(fit.roll[r].data()) - mean;
    spread.topLeftCorner<kLookSize, kLookSize>() += shares[r] * away * away.transpose();
  }
}

Spread Flat(const Matrix& m) { return {m.data(), m.data() + m.size()}; }

Matrix LookSpread(const FilmFit& fit, const Matrix& rows) {
  const Eigen::Map<const Matrix> all(fit.covariance.data(), fit.CovarianceSize(), fit.CovarianceSize());
  return rows * all * rows.transpose();
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
  Matrix rows = LookRows(fit, shares);
  for (int c = 0; c < 3; ++c)
    rows(kLookSize + c, kLookSize * (1 + static_cast<int>(fit.roll.size())) + 3 * light + c) = 1;
  Matrix spread = LookSpread(fit, rows);
  AddBetween(fit, shares, spread);
  return Flat(spread);
}

Spread SpreadOfCarried(const FilmFit& fit, const std::vector<double>& shares, const OffsetPrior& offsets,
                       const LookBelief& before) {
  Matrix spread = Matrix::Zero(kSpreadSize, kSpreadSize);
  if (fit.usable) {
    spread = LookSpread(fit, LookRows(fit, shares));
    AddBetween(fit, shares, spread);
  } else {
    spread.topLeftCorner<kLookSize, kLookSize>() =
        Eigen::Map<const Matrix>(before.information.data(), kLookSize, kLookSize)
            .llt()
            .solve(Matrix::Identity(kLookSize, kLookSize));
  }
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
