#include "pair/align.h"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace samelight::pair {
namespace {

constexpr double kShown = 0.6;  // prior: the moment of a scan was photographed digitally too
// How orderly a roll is: a scan may lie out of order, anywhere (astray), and the roll may go on anywhere else
// (jump). Most are as they left the camera; what a roll is shows in its own sure scans.
struct Habit {
  double prior, astray, jump;
};
constexpr Habit kHabits[] = {
    {0.8, 0.004, 0.004}, {0.15, 0.06, 0.02}, {0.05, 0.6, 0.1}};  // the last is hardly any order
constexpr Habit kNoOrder{1, 1, 1};
constexpr double kBack = 0.35;  // moves against the order, in parts of the pace

struct Run {
  double log_likelihood = 0;
  std::vector<std::vector<double>> match;
};

Run ForwardBackward(const LogRatios& ratios, const Habit& habit) {
  const int scans = static_cast<int>(ratios.size()), frames = static_cast<int>(ratios[0].size());
  const double pace = std::max(1.0, static_cast<double>(frames) / scans);
  // Probability of a step, by its length in frames.
  std::vector<double> step(2 * frames - 1);
  double sum = 0;
  for (int d = -(frames - 1); d < frames; ++d) {
    const double p = d >= 0 ? std::exp(-d / (1.5 * pace)) : 0.5 * std::exp(d / (kBack * pace));
    step[d + frames - 1] = p;
    sum += p;
  }
  for (double& p : step) p /= sum;
  // At place p: with 1 - habit.astray the scan is seen at p, else anywhere, and the place of the roll goes on
  // undisturbed.
  std::vector<std::vector<double>> emission(scans, std::vector<double>(frames)), shown = emission;
  for (int i = 0; i < scans; ++i) {
    double anywhere = 0;
    for (int j = 0; j < frames; ++j) {
      shown[i][j] = kShown * std::exp(std::clamp(ratios[i][j], -30.0, 30.0));
      anywhere += (1 - kShown + shown[i][j]) / frames;
    }
    for (int j = 0; j < frames; ++j)
      emission[i][j] = (1 - habit.astray) * (1 - kShown + shown[i][j]) + habit.astray * anywhere;
  }
  Run run;
  std::vector<std::vector<double>> forward = emission, backward(scans, std::vector<double>(frames, 1));
  auto normalise = [&](std::vector<double>& v) {
    double total = 0;
    for (double x : v) total += x;
    for (double& x : v) x /= total;
    return std::log(total);
  };
  for (int j = 0; j < frames; ++j) forward[0][j] = emission[0][j] / frames;
  run.log_likelihood = normalise(forward[0]);
  for (int i = 1; i < scans; ++i) {
    for (int j = 0; j < frames; ++j) {
      double p = habit.jump / frames;  // forward[i - 1] sums to 1
      for (int k = 0; k < frames; ++k) p += (1 - habit.jump) * forward[i - 1][k] * step[j - k + frames - 1];
      forward[i][j] = p * emission[i][j];
    }
    run.log_likelihood += normalise(forward[i]);
  }
  for (int i = scans - 2; i >= 0; --i) {
    std::vector<double> next(frames);
    double all = 0;
    for (int k = 0; k < frames; ++k) all += next[k] = emission[i + 1][k] * backward[i + 1][k];
    for (int j = 0; j < frames; ++j) {
      double p = habit.jump / frames * all;
      for (int k = 0; k < frames; ++k) p += (1 - habit.jump) * next[k] * step[k - j + frames - 1];
      backward[i][j] = p;
    }
    normalise(backward[i]);
  }
  run.match = forward;
  for (int i = 0; i < scans; ++i) {
    std::vector<double>& row = run.match[i];
    for (int j = 0; j < frames; ++j) row[j] *= backward[i][j];
    normalise(row);
    double astray = 0;
    for (int j = 0; j < frames; ++j) {
      row[j] /= emission[i][j];
      astray += row[j] * habit.astray / frames;
    }
    for (int j = 0; j < frames; ++j) row[j] = ((1 - habit.astray) * row[j] + astray) * shown[i][j];
  }
  return run;
}

}  // namespace

Alignment AlignRoll(const LogRatios& ratios) {
  Alignment out;
  if (ratios.empty() || ratios[0].empty()) return out;
  const LogRatios turned(ratios.rbegin(), ratios.rend());
  std::vector<Run> runs;
  for (const Habit& habit : kHabits)
    for (const bool reversed : {false, true}) {
      runs.push_back(ForwardBackward(reversed ? turned : ratios, habit));
      if (reversed) std::reverse(runs.back().match.begin(), runs.back().match.end());
      runs.back().log_likelihood += std::log(habit.prior);
    }
  out.alone = ForwardBackward(ratios, kNoOrder).match;
  double best = runs[0].log_likelihood, total = 0, against = 0, shuffled = 0, first = 0;
  for (const Run& run : runs) best = std::max(best, run.log_likelihood);
  out.match.assign(ratios.size(), std::vector<double>(ratios[0].size(), 0));
  for (const Run& run : runs) total += std::exp(run.log_likelihood - best);
  for (std::size_t r = 0; r < runs.size(); ++r) {
    const double share = std::exp(runs[r].log_likelihood - best) / total;
    if (r % 2 == 1) against += share;
    if (r / 2 == 0) first += share;
    if (r / 2 + 1 == std::size(kHabits)) shuffled += share;
    for (std::size_t i = 0; i < ratios.size(); ++i)
      for (std::size_t j = 0; j < ratios[i].size(); ++j) out.match[i][j] += share * runs[r].match[i][j];
  }
  out.reversed = against > 0.5;
  out.in_order = 1 - shuffled;
  out.untouched = first;
  return out;
}

}  // namespace samelight::pair
