#include "record/learned_look.h"

#include <cmath>

namespace samelight::record {
namespace {

void AddMatrix(const std::string& name, double most, std::array<BeliefNumber, kLookNumbers>& all, int& at) {
  for (const char* cell : {"red from green", "red from blue", "green from red", "green from blue",
                           "blue from red", "blue from green"})
    all[at++] = {name + " " + cell, -most, most, most};
}

std::array<BeliefNumber, kLookNumbers> MakeLookNumbers() {
  std::array<BeliefNumber, kLookNumbers> all;
  int at = 0;
  AddMatrix("m1", 0.5, all, at);
  // From 0.02 to 2 of log10: the range that a touch may reach, too.
  const double narrow = std::log(0.02), wide = std::log(2.0);
  for (const char* layer : {"red", "green", "blue"}) {
    const std::string name = layer;
    all[at++] = {name + " gamma", 0.6, 3.0, 2};
    all[at++] = {name + " floor", -3.5, -1.0, 2};
    all[at++] = {name + " ceiling", -0.5, 0.3, 0.5};
    all[at++] = {name + " log toe", narrow, wide, 3};
    all[at++] = {name + " log shoulder", narrow, wide, 3};
  }
  AddMatrix("m2", 0.6, all, at);
  for (const char* hue : {"reds", "skin", "yellow", "foliage", "sky", "violet"}) {
    const std::string name = hue;
    all[at++] = {name + " hue", -40, 40, 40};
    all[at++] = {name + " chroma", -1, 1, 1};
    all[at++] = {name + " lightness", -20, 20, 20};
  }
  AddMatrix("interimage", 1, all, at);
  return all;
}

}  // namespace

double Belief::Covariance(int row, int column) const {
  const int high = row > column ? row : column, low = row > column ? column : row;
  return covariance[static_cast<std::size_t>(high) * (high + 1) / 2 + low];
}

double Belief::Sigma(int i) const { return std::sqrt(Covariance(i, i)); }

const std::array<BeliefNumber, kLookNumbers>& LookNumbers() {
  static const std::array<BeliefNumber, kLookNumbers> all = MakeLookNumbers();
  return all;
}

const std::array<BeliefNumber, kRuleNumbers>& RuleNumbers() {
  static const std::array<BeliefNumber, kRuleNumbers> all = {{{"level", -3, 3, 2},
                                                              {"level share", -1, 2, 2},
                                                              {"warm share", -2, 2, 2},
                                                              {"red balance", -1, 1, 1},
                                                              {"green balance", -1, 1, 1},
                                                              {"blue balance", -1, 1, 1},
                                                              {"grey share", -2, 2, 2},
                                                              {"cast share", -2, 2, 2}}};
  return all;
}

}  // namespace samelight::record
