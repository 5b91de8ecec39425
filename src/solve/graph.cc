#include "solve/graph.h"

#include <Eigen/Sparse>
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>

namespace samelight::solve {
namespace {

using Sparse = Eigen::SparseMatrix<double>;
using Factor = Eigen::SimplicialLDLT<Sparse>;

// Of the Cauchy loss.
double WeightOf(const GraphEdge& e, double a, double b) {
  const double r = (b - a - e.difference) / (2 * e.sigma);
  return 1 / (1 + r * r);
}

Sparse Normal(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges,
              const std::vector<double>& weight) {
  const int n = static_cast<int>(priors.size());
  std::vector<Eigen::Triplet<double>> entries;
  entries.reserve(priors.size() + 4 * edges.size());
  for (int i = 0; i < n; ++i) entries.emplace_back(i, i, 1 / (priors[i].sigma * priors[i].sigma));
  for (std::size_t k = 0; k < edges.size(); ++k) {
    const GraphEdge& e = edges[k];
    const double w = weight[k] / (e.sigma * e.sigma);
    entries.emplace_back(e.a, e.a, w);
    entries.emplace_back(e.b, e.b, w);
    entries.emplace_back(e.a, e.b, -w);
    entries.emplace_back(e.b, e.a, -w);
  }
  Sparse normal(n, n);
  normal.setFromTriplets(entries.begin(), entries.end());
  return normal;
}

}  // namespace

std::vector<double> SolveGraph(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges) {
  const int n = static_cast<int>(priors.size());
  Eigen::VectorXd x(n);
  for (int i = 0; i < n; ++i) x[i] = priors[i].mean;
  std::vector<double> weight(edges.size(), 1.0);
  for (int round = 0; round < 12; ++round) {
    Eigen::VectorXd right(n);
    for (int i = 0; i < n; ++i) right[i] = priors[i].mean / (priors[i].sigma * priors[i].sigma);
    for (std::size_t k = 0; k < edges.size(); ++k) {
      const double pull = weight[k] * edges[k].difference / (edges[k].sigma * edges[k].sigma);
      right[edges[k].b] += pull;
      right[edges[k].a] -= pull;
    }
    const Eigen::VectorXd next = Factor(Normal(priors, edges, weight)).solve(right);
    const double moved = (next - x).lpNorm<Eigen::Infinity>();
    x = next;
    for (std::size_t k = 0; k < edges.size(); ++k)
      weight[k] = WeightOf(edges[k], x[edges[k].a], x[edges[k].b]);
    if (round > 1 && moved < 1e-6) break;
  }
  return {x.data(), x.data() + n};
}

std::vector<double> SpreadInGroup(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges,
                                  const std::vector<double>& values, const std::vector<int>& group) {
  std::vector<double> weight;
  for (const GraphEdge& e : edges) weight.push_back(WeightOf(e, values[e.a], values[e.b]));
  const Factor factor(Normal(priors, edges, weight));
  const int groups = group.empty() ? 0 : 1 + *std::max_element(group.begin(), group.end());
  const auto n = static_cast<Eigen::Index>(priors.size());
  std::vector<Eigen::VectorXd> mean(static_cast<std::size_t>(groups), Eigen::VectorXd::Zero(n));
  for (std::size_t i = 0; i < group.size(); ++i) mean[group[i]][static_cast<Eigen::Index>(i)] = 1;
  for (Eigen::VectorXd& m : mean) m /= std::max(1.0, m.sum());
  std::vector<double> spread;
  for (std::size_t i = 0; i < group.size(); ++i) {
    Eigen::VectorXd away = -mean[group[i]];
    away[static_cast<Eigen::Index>(i)] += 1;
    spread.push_back(std::sqrt(std::max(0.0, away.dot(factor.solve(away)))));
  }
  return spread;
}

}  // namespace samelight::solve
