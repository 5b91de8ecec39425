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

// One standard deviation of values[i] less the mean over its group, i in [0, group.size()): of the Gaussian
// around the solution, edges weighted as there (an edge that the others contradict tells little). Groups are
// any numbers from 0 on. One sparse solve per node: 3,000 frames take a second or two.
std::vector<double> SpreadInGroup(const std::vector<GraphPrior>& priors, const std::vector<GraphEdge>& edges,
                                  const std::vector<double>& values, const std::vector<int>& group);

}  // namespace samelight::solve
