#include "preview/align.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace samelight::preview {
namespace {

constexpr double kRad = 0.017453292519943295;
constexpr std::size_t kFewest = 6;
constexpr int kRounds = 12;

struct Match {
  Point a, b;
  double weight = 1;
};

// Weighted least squares in closed form: complex numbers for the plane, b = z * a + t.
Similarity Closed(const std::vector<Match>& matches, const std::vector<double>& weight, bool mirrored) {
  double sum = 0, ax = 0, ay = 0, bx = 0, by = 0;
  const double turn = mirrored ? -1 : 1;
  for (std::size_t i = 0; i < matches.size(); ++i) {
    const Match& m = matches[i];
    sum += weight[i];
    ax += weight[i] * turn * m.a.x;
    ay += weight[i] * m.a.y;
    bx += weight[i] * m.b.x;
    by += weight[i] * m.b.y;
  }
  sum = std::max(sum, 1e-12);
  ax /= sum, ay /= sum, bx /= sum, by /= sum;
  double re = 0, im = 0, square = 0;
  for (std::size_t i = 0; i < matches.size(); ++i) {
    const Match& m = matches[i];
    const double px = turn * m.a.x - ax, py = m.a.y - ay, qx = m.b.x - bx, qy = m.b.y - by;
    re += weight[i] * (px * qx + py * qy);
    im += weight[i] * (px * qy - py * qx);
    square += weight[i] * (px * px + py * py);
  }
  Similarity s;
  s.mirrored = mirrored;
  s.scale = std::hypot(re, im) / std::max(square, 1e-12);
  s.angle_deg = std::atan2(im, re) / kRad;
  const double c = s.scale * std::cos(s.angle_deg * kRad), d = s.scale * std::sin(s.angle_deg * kRad);
  s.shift = {bx - (c * ax - d * ay), by - (d * ax + c * ay)};
  return s;
}

double Distance(const Similarity& s, const Match& m) {
  const Point p = Map(s, m.a);
  return std::hypot(p.x - m.b.x, p.y - m.b.y);
}

}  // namespace

Point Map(const Similarity& b_from_a, Point a) {
  const double c = b_from_a.scale * std::cos(b_from_a.angle_deg * kRad);
  const double s = b_from_a.scale * std::sin(b_from_a.angle_deg * kRad);
  const double x = b_from_a.mirrored ? -a.x : a.x;
  return {c * x - s * a.y + b_from_a.shift.x, s * x + c * a.y + b_from_a.shift.y};
}

Similarity Inverse(const Similarity& b_from_a) {
  Similarity inverse;
  inverse.scale = 1 / b_from_a.scale;
  inverse.mirrored = b_from_a.mirrored;
  inverse.angle_deg = b_from_a.mirrored ? b_from_a.angle_deg : -b_from_a.angle_deg;
  inverse.shift = {0, 0};
  const Point back = Map(inverse, b_from_a.shift);
  inverse.shift = {-back.x, -back.y};
  return inverse;
}

std::optional<Similarity> FitSimilarity(const record::Correspondence& matched, int a_width, int a_height,
                                        int b_width, int b_height) {
  std::vector<Match> matches;
  for (const record::Cell& cell : matched.cells) {
    const Match m{{cell.ax * a_width, cell.ay * a_height},
                  {cell.bx * b_width, cell.by * b_height},
                  std::max(0.0, static_cast<double>(cell.weight))};
    if (std::isfinite(m.a.x + m.a.y + m.b.x + m.b.y + m.weight)) matches.push_back(m);
  }
  if (matches.size() < kFewest) return std::nullopt;
  std::vector<double> weight(matches.size());
  for (std::size_t i = 0; i < matches.size(); ++i) weight[i] = matches[i].weight;
  Similarity fit = Closed(matches, weight, matched.mirrored);
  // The scale of what counts as agreeing starts wide and closes in on 1 % of the picture.
  const double finest = 0.01 * std::hypot(b_width, b_height);
  for (int round = 0; round < kRounds; ++round) {
    const double scale = finest * std::max(1.0, 16.0 / std::exp2(round));
    for (std::size_t i = 0; i < matches.size(); ++i) {
      const double r = Distance(fit, matches[i]) / scale;
      weight[i] = matches[i].weight / ((1 + r * r) * (1 + r * r));
    }
    fit = Closed(matches, weight, matched.mirrored);
  }
  const auto agree = std::count_if(matches.begin(), matches.end(),
                                   [&](const Match& m) { return Distance(fit, m) < 3 * finest; });
  if (static_cast<std::size_t>(agree) < kFewest || !(fit.scale > 0.02 && fit.scale < 50)) return std::nullopt;
  return fit;
}

View Linked(const Similarity& b_from_a, const View& view) {
  View linked;
  linked.centre = Map(b_from_a, view.centre);
  linked.zoom = view.zoom / b_from_a.scale;
  linked.mirrored = view.mirrored != b_from_a.mirrored;
  // a to output turns by the view's angle; b to output undoes the turn from a to b first. A mirror in a view
  // comes before its turn, so that it reverses the sense of what was turned before.
  linked.angle_deg = view.angle_deg - (linked.mirrored ? -1 : 1) * b_from_a.angle_deg;
  return linked;
}

View LinkedByFraction(const View& view, int a_width, int a_height, int b_width, int b_height) {
  View linked = view;
  linked.centre = {view.centre.x * b_width / std::max(1, a_width),
                   view.centre.y * b_height / std::max(1, a_height)};
  linked.zoom = view.zoom * std::max(a_width, a_height) / std::max(1, std::max(b_width, b_height));
  return linked;
}

}  // namespace samelight::preview
