// Robust linear solve for one number per node from noisy differences along edges.
#pragma once

#include <vector>

namespace samelight::solve {

struct GraphEdge {
  int a = 0, b = 0;       // node indices
  double difference = 0;  // measured value[b] - value[a]
  double sigma = 1;       // one standard deviation of a good measurement
};
struct GraphPrior {
  double mean = 0;
  double sigma = 1;
};

// Minimises sum of Cauchy-weighted squared edge residuals (scale 2 sigma) plus Gaussian priors, by
// iteratively reweighted least squares. One prior per node with finite sigma makes the system regular.
// Returns one value per node.
std::vector<double> SolveGraph(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges);

}  // namespace samelight::solve
