#include "solve/film_equations.h"

#include <Eigen/Dense>
#include <utility>

#include "solve/hold_grey.h"

namespace samelight::solve {
namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;
using PredictMatrix = Eigen::Matrix<double, kPredictSize, kPredictSize>;
using PredictNumbers = Eigen::Matrix<double, kPredictSize, 1>;
using NudgeMatrix = Eigen::Matrix<double, kNudgeSize, kNudgeSize>;
using NudgeNumbers = Eigen::Matrix<double, kNudgeSize, 1>;
using PredictByLook = Eigen::Matrix<double, kPredictSize, kLookSize>;
using PredictByLight = Eigen::Matrix<double, kPredictSize, kLightSize>;
using PredictByContent = Eigen::Matrix<double, kPredictSize, kContentSize>;
using PredictByNudge = Eigen::Matrix<double, kPredictSize, kNudgeSize>;

Eigen::Map<const Matrix> MatrixOf(const EquationBlock& block) {
  const auto size = static_cast<Eigen::Index>(block.gradient.size());
  return {block.matrix.data(), size, size};
}
Eigen::Map<const Vector> GradientOf(const EquationBlock& block) {
  return {block.gradient.data(), static_cast<Eigen::Index>(block.gradient.size())};
}
std::vector<double> Flat(const Vector& v) { return {v.data(), v.data() + v.size()}; }

// A prediction's numbers by those of the looks and of the light. A look's numbers are the prediction's own; a
// stray moves the offsets beside (hold_grey.h): products are taken by these few rows.
struct Parts {
  Eigen::Matrix<double, 3, kLookSize> hold;
  Eigen::Matrix<double, 3, kContentSize> content;
  double place;

  explicit Parts(const FilmSession::Scan& scan) : place(scan.place) {
    const GreyHold& grey = HoldGrey();
    for (int c = 0; c < 3; ++c) {
      for (int k = 0; k < kLookSize; ++k) hold(c, k) = grey[c][k];
      content.row(c) << -scan.level, -scan.grey[c];
    }
  }
  // matrix * part.
  PredictByLook TimesStray(const PredictMatrix& m) const {
    return m.leftCols<kLookSize>() + m.middleCols<3>(kOffsetAt) * hold;
  }
  PredictByContent TimesContent(const PredictMatrix& m) const { return m.middleCols<3>(kOffsetAt) * content; }
  PredictByLight TimesLight(const PredictMatrix& m) const {
    PredictByLight out;
    out.leftCols<3>() = m.middleCols<3>(kOffsetAt);
    out.middleCols<3>(kLightTrend) = place * m.middleCols<3>(kOffsetAt);
    out.rightCols<kLookSize>() = TimesStray(m);
    return out;
  }
  // part^T * matrix.
  template <class M>
  auto Common(const M& m) const {
    return m.template topRows<kLookSize>().eval();
  }
  template <class M>
  auto Stray(const M& m) const {
    return (m.template topRows<kLookSize>() + hold.transpose() * m.template middleRows<3>(kOffsetAt)).eval();
  }
  template <class M>
  auto Content(const M& m) const {
    return (content.transpose() * m.template middleRows<3>(kOffsetAt)).eval();
  }
  template <class M>
  auto Light(const M& m) const {
    Eigen::Matrix<double, kLightSize, M::ColsAtCompileTime> out;
    out.template topRows<3>() = m.template middleRows<3>(kOffsetAt);
    out.template middleRows<3>(kLightTrend) = place * m.template middleRows<3>(kOffsetAt);
    out.template bottomRows<kLookSize>() = Stray(m);
    return out;
  }
  // What a prediction moves by.
  PredictNumbers Moved(const Vector& common, const Vector& stray, const Vector& contents,
                       const Vector& light) const {
    PredictNumbers out = PredictNumbers::Zero();
    const Vector strays = stray + light.tail<kLookSize>();
    out.head<kLookSize>() = common + strays;
    out.segment<3>(kOffsetAt) =
        hold * strays + content * contents + light.head<3>() + place * light.segment<3>(kLightTrend);
    return out;
  }
};

PredictByNudge ByNudge() {
  PredictByNudge by = PredictByNudge::Zero();
  for (int c = 0; c < 3; ++c) by(kOffsetAt + c, c) = 1;
  by(kContrastAt, 3) = by(kBlackAt, 4) = 1;
  return by;
}

// The equations without nudges, and what brings a nudge back.
struct Reduced {
  Matrix looks;
  Vector looks_gradient;
  struct OfLight {
    Matrix own, with_looks;  // with_looks: own numbers x looks
    Vector gradient;
  };
  std::vector<OfLight> lights;
  std::vector<Eigen::Matrix<double, kNudgeSize, kPredictSize>> nudge_by_prediction;
  std::vector<NudgeNumbers> nudge_alone;
};

Reduced WithoutNudges(const FilmSession& session, const FilmEquations& equations, double damping) {
  const LooksLayout at{session.rolls};
  Reduced out{MatrixOf(equations.looks), GradientOf(equations.looks), {}, {}, {}};
  Vector looks_diagonal = out.looks.diagonal();
  std::vector<Vector> light_diagonal;
  for (const EquationBlock& light : equations.lights) {
    out.lights.push_back({MatrixOf(light), Matrix::Zero(kLightSize, at.size()), GradientOf(light)});
    light_diagonal.push_back(out.lights.back().own.diagonal());
  }
  static const PredictByNudge by_nudge = ByNudge();
  for (std::size_t i = 0; i < equations.scans.size(); ++i) {
    const PredictMatrix matrix = MatrixOf(equations.scans[i].prediction);
    const PredictNumbers full_gradient = GradientOf(equations.scans[i].prediction);
    const FilmSession::Scan& scan = session.scans[i];
    const PredictByNudge cross = matrix * by_nudge;
    NudgeMatrix own = MatrixOf(equations.scans[i].nudge) + by_nudge.transpose() * cross;
    own.diagonal() *= 1 + damping;
    const Eigen::LDLT<NudgeMatrix> root(own);
    const NudgeNumbers gradient = GradientOf(equations.scans[i].nudge) + by_nudge.transpose() * full_gradient;
    out.nudge_by_prediction.push_back(-root.solve(cross.transpose()));
    out.nudge_alone.push_back(-root.solve(gradient));
    const PredictMatrix h = matrix + cross * out.nudge_by_prediction.back();
    const PredictNumbers g = full_gradient + cross * out.nudge_alone.back();

    const Parts parts(scan);
    const int roll = at.Roll(scan.roll), content = at.Content();
    const PredictByLook h_common = h.leftCols<kLookSize>(), h_stray = parts.TimesStray(h);
    const PredictByContent h_content = parts.TimesContent(h);
    const auto add = [&](int row, int column, const auto& block) {
      out.looks.block(row, column, block.rows(), block.cols()) += block;
      if (row != column) out.looks.block(column, row, block.cols(), block.rows()) += block.transpose();
    };
    add(at.Common(), at.Common(), parts.Common(h_common));
    add(at.Common(), roll, parts.Common(h_stray));
    add(roll, roll, parts.Stray(h_stray));
    add(at.Common(), content, parts.Common(h_content));
    add(roll, content, parts.Stray(h_content));
    add(content, content, parts.Content(h_content));
    out.looks_gradient.segment<kLookSize>(at.Common()) += parts.Common(g);
    out.looks_gradient.segment<kLookSize>(roll) += parts.Stray(g);
    out.looks_gradient.segment<kContentSize>(content) += parts.Content(g);
    Reduced::OfLight& light = out.lights[static_cast<std::size_t>(scan.light)];
    light.own += parts.Light(parts.TimesLight(h));
    light.with_looks.middleCols<kLookSize>(at.Common()) += parts.Light(h_common);
    light.with_looks.middleCols<kLookSize>(roll) += parts.Light(h_stray);
    light.with_looks.middleCols<kContentSize>(content) += parts.Light(h_content);
    light.gradient += parts.Light(g);

    looks_diagonal.segment<kLookSize>(at.Common()) += matrix.diagonal().head<kLookSize>();
    looks_diagonal.segment<kLookSize>(roll) += parts.Stray(parts.TimesStray(matrix)).diagonal();
    looks_diagonal.segment<kContentSize>(content) += parts.Content(parts.TimesContent(matrix)).diagonal();
    light_diagonal[static_cast<std::size_t>(scan.light)] += parts.Light(parts.TimesLight(matrix)).diagonal();
  }
  out.looks.diagonal() += damping * looks_diagonal;
  for (std::size_t l = 0; l < out.lights.size(); ++l)
    out.lights[l].own.diagonal() += damping * light_diagonal[l];
  return out;
}

}  // namespace

FilmEquations::FilmEquations(const FilmSession& session, std::size_t scan_count)
    : looks(LooksLayout{session.rolls}.size()),
      lights(session.lights.size(), EquationBlock(kLightSize)),
      scans(scan_count) {}

FilmStep StepOf(const FilmSession& session, const FilmEquations& equations, double damping, bool hold_looks) {
  Reduced r = WithoutNudges(session, equations, damping);
  std::vector<Matrix> by_looks;
  std::vector<Vector> alone;
  for (const Reduced::OfLight& light : r.lights) {
    const Eigen::LDLT<Matrix> root(light.own);
    by_looks.push_back(-root.solve(light.with_looks));
    alone.push_back(-root.solve(light.gradient));
    r.looks.noalias() += light.with_looks.transpose() * by_looks.back();
    r.looks_gradient.noalias() += light.with_looks.transpose() * alone.back();
  }
  Vector looks = Vector::Zero(r.looks.rows());
  if (!hold_looks) looks = -r.looks.ldlt().solve(r.looks_gradient);
  FilmStep step;
  step.looks = Flat(looks);
  std::vector<Vector> lights;
  for (std::size_t l = 0; l < r.lights.size(); ++l) {
    lights.push_back(alone[l] + by_looks[l] * looks);
    step.lights.push_back(Flat(lights.back()));
  }
  const LooksLayout at{session.rolls};
  for (std::size_t i = 0; i < equations.scans.size(); ++i) {
    const FilmSession::Scan& scan = session.scans[i];
    const Parts parts(scan);
    const PredictNumbers moved =
        parts.Moved(looks.segment<kLookSize>(at.Common()), looks.segment<kLookSize>(at.Roll(scan.roll)),
                    looks.segment<kContentSize>(at.Content()), lights[static_cast<std::size_t>(scan.light)]);
    step.nudges.push_back(Flat(r.nudge_alone[i] + r.nudge_by_prediction[i] * moved));
  }
  return step;
}

void Invert(const FilmSession& session, const FilmEquations& equations, FilmFit& fit) {
  Reduced r = WithoutNudges(session, equations, 0);
  std::vector<Matrix> own, by_looks;
  for (const Reduced::OfLight& light : r.lights) {
    own.push_back(light.own.ldlt().solve(Matrix::Identity(kLightSize, kLightSize)));
    by_looks.push_back(-own.back() * light.with_looks);
    r.looks.noalias() += light.with_looks.transpose() * by_looks.back();
  }
  const Matrix looks = r.looks.ldlt().solve(Matrix::Identity(r.looks.rows(), r.looks.cols()));
  const int size = fit.LooksSize();
  const auto rows = [](const Matrix& m) {
    std::vector<double> out;
    for (Eigen::Index i = 0; i < m.rows(); ++i)
      for (Eigen::Index k = 0; k < m.cols(); ++k) out.push_back(m(i, k));
    return out;
  };
  fit.looks_covariance = rows(looks.topLeftCorner(size, size));
  // Of a light's own look and its offsets; the trend is left out.
  Matrix pick = Matrix::Zero(kLookSize + 3, kLightSize);
  pick.block<kLookSize, kLookSize>(0, kLightLook).setIdentity();
  pick.block<3, 3>(kLookSize, 0).setIdentity();
  fit.light_covariance.clear();
  for (std::size_t l = 0; l < own.size(); ++l) {
    const Matrix with = pick * by_looks[l] * looks;
    fit.light_covariance.push_back(
        {rows(pick * own[l] * pick.transpose() + with * (pick * by_looks[l]).transpose()),
         rows(with.leftCols(size))});
  }
}

}  // namespace samelight::solve
