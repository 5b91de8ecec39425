#include "solve/graph.h"

#include <Eigen/Sparse>
#include <Eigen/SparseCholesky>

namespace samelight::solve {

std::vector<double> SolveGraph(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges) {
  const int n = static_cast<int>(priors.size());
  Eigen::VectorXd x(n);
  for (int i = 0; i < n; ++i) x[i] = priors[i].mean;
  std::vector<double> weight(edges.size(), 1.0);
  for (int round = 0; round < 12; ++round) {
    std::vector<Eigen::Triplet<double>> entries;
    entries.reserve(priors.size() + 4 * edges.size());
    Eigen::VectorXd right = Eigen::VectorXd::Zero(n);
    for (int i = 0; i < n; ++i) {
      const double w = 1 / (priors[i].sigma * priors[i].sigma);
      entries.emplace_back(i, i, w);
      right[i] += w * priors[i].mean;
    }
    for (std::size_t k = 0; k < edges.size(); ++k) {
      const GraphEdge& e = edges[k];
      const double w = weight[k] / (e.sigma * e.sigma);
      entries.emplace_back(e.a, e.a, w);
      entries.emplace_back(e.b, e.b, w);
      entries.emplace_back(e.a, e.b, -w);
      entries.emplace_back(e.b, e.a, -w);
      right[e.b] += w * e.difference;
      right[e.a] -= w * e.difference;
    }
    Eigen::SparseMatrix<double> normal(n, n);
    normal.setFromTriplets(entries.begin(), entries.end());
    const Eigen::VectorXd next = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(normal).solve(right);
    const double moved = (next - x).lpNorm<Eigen::Infinity>();
    x = next;
    for (std::size_t k = 0; k < edges.size(); ++k) {
      const GraphEdge& e = edges[k];
      const double r = (x[e.b] - x[e.a] - e.difference) / (2 * e.sigma);
      weight[k] = 1 / (1 + r * r);
    }
    if (round > 1 && moved < 1e-6) break;
  }
  return {x.data(), x.data() + n};
}

}  // namespace samelight::solve
