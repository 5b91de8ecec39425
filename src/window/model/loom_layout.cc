#include <algorithm>
#include <cmath>

#include "window/model/loom.h"

namespace samelight::window {
namespace {

constexpr double kLeastFolded = 26;   // px: a slit that can still be hit
constexpr double kUsualFolded = 72;   // px: a short name fits
constexpr double kLeastOpen = 320;    // px
constexpr double kFoldedShare = 0.5;  // of the width, for all folded lights together

double Mix(double a, double b, double t) { return a + (b - a) * t; }

// Widths of pictures that fall off from place `focus` so that their sum is `width`.
std::vector<double> FallOff(const std::vector<double>& natural, double focus, double width) {
  double sum = 0;
  for (double w : natural) sum += w;
  if (sum <= width || natural.empty()) return natural;
  const double least = width / static_cast<double>(natural.size()) * 0.3;
  std::vector<double> out(natural.size());
  const auto fill = [&](double reach) {
    double total = 0;
    for (std::size_t i = 0; i < natural.size(); ++i) {
      const double away = std::max(0.0, std::abs(static_cast<double>(i) - focus) - 1.2);
      out[i] = std::max(least, natural[i] / (1 + std::pow(away / reach, 2)));
      total += out[i];
    }
    return total;
  };
  double low = 0.05, high = 400;
  for (int i = 0; i < 24; ++i) {
    const double middle = std::sqrt(low * high);
    (fill(middle) > width ? high : low) = middle;
  }
  const double scale = width / fill(low);
  for (double& w : out) w *= scale;
  return out;
}

// Places spans of widths `w` in order inside [x, x + width], as near to their wished centres as order and
// width allow (pool adjacent violators on the left edges).
void Place(const std::vector<double>& wished, std::vector<double> w, double x, double width, LoomSpan* out) {
  const std::size_t n = w.size();
  if (n == 0) return;
  double sum = 0;
  for (double v : w) sum += v;
  if (sum > width)
    for (double& v : w) v *= width / sum;
  struct Pool {
    double sum;
    int count;
  };
  std::vector<Pool> pools;
  double before = 0;
  for (std::size_t i = 0; i < n; ++i) {
    pools.push_back({wished[i] - w[i] / 2 - before, 1});
    while (pools.size() > 1) {
      const Pool last = pools.back();
      Pool& previous = pools[pools.size() - 2];
      if (previous.sum / previous.count <= last.sum / last.count) break;
      previous.sum += last.sum;
      previous.count += last.count;
      pools.pop_back();
    }
    before += w[i];
  }
  const double slack = std::max(0.0, width - before);
  before = 0;
  std::size_t i = 0;
  for (const Pool& pool : pools)
    for (int k = 0; k < pool.count; ++k, ++i) {
      out[i] = {x + std::clamp(pool.sum / pool.count - x, 0.0, slack) + before, w[i]};
      before += w[i];
    }
}

struct Light {
  double natural = 0;  // width with every picture at its full width
  double folded = 0, width = 0, open = 0;
};

std::vector<Light> LightWidths(const Loom& loom, const LoomGaze& gaze) {
  std::vector<Light> lights(loom.lights.size());
  double opened = 0;
  for (std::size_t i = 0; i < lights.size(); ++i) {
    const LoomLight& light = loom.lights[i];
    double frames = 0, scans = 0;
    for (int k = 0; k < light.frames; ++k) frames += loom.frames[light.first_frame + k].aspect;
    for (int k = 0; k < light.scans; ++k) scans += loom.scans[light.first_scan + k].aspect;
    lights[i].natural = std::max({frames, scans, 0.8}) * gaze.strip_height;
    lights[i].open = std::min(1.0, gaze.pleat[i]);
    opened += lights[i].open;
  }
  const double share = std::min(1.0, opened);
  const double count = static_cast<double>(lights.size());
  const double pictures = std::max<double>(1, static_cast<double>(loom.frames.size() + loom.scans.size()));
  // What the open ones do not need goes to the folded ones.
  double needed = 0;
  for (const Light& light : lights) needed += light.open * std::min(light.natural, gaze.width);
  const double for_folded =
      std::max(gaze.width - needed, std::min(gaze.width * kFoldedShare, count * kUsualFolded));
  const double folded_count = std::max(1.0, count - opened);
  double folded_sum = 0;
  for (std::size_t i = 0; i < lights.size(); ++i) {
    const double even = for_folded / folded_count;
    const double part = (loom.lights[i].frames + loom.lights[i].scans) / pictures;
    const double least = std::min(kUsualFolded, 0.6 * gaze.width / count);
    const double proportional = least + (gaze.width - least * count) * part;
    lights[i].folded = std::max(kLeastFolded, Mix(proportional, even, 0.3 + 0.7 * share));
    folded_sum += lights[i].folded * (1 - lights[i].open);
  }
  const double left = std::max(gaze.width - folded_sum, kLeastOpen * std::min(1.0, opened));
  for (std::size_t i = 0; i < lights.size(); ++i) {
    Light& light = lights[i];
    const double fits = opened > 0 ? std::min(light.natural, left / std::max(1.0, opened)) : light.folded;
    const double wide = Mix(fits, std::max(fits, light.natural), std::clamp(gaze.pleat[i] - 1, 0.0, 1.0));
    light.width = Mix(light.folded, wide, light.open);
  }
  double total = 0;
  for (const Light& light : lights) total += light.width;
  if (total < gaze.width && total > 0)
    for (Light& light : lights) light.width *= gaze.width / total;
  return lights;
}

}  // namespace

LoomTies TiesOf(const Loom& loom) {
  LoomTies ties;
  ties.of_scan.assign(loom.scans.size(), -1);
  ties.of_frame.assign(loom.frames.size(), -1);
  ties.of_light.resize(loom.lights.size());
  // From the last: of several ribbons of a frame the first one counts.
  for (int i = static_cast<int>(loom.ribbons.size()) - 1; i >= 0; --i) {
    ties.of_scan[loom.ribbons[i].scan] = i;
    ties.of_frame[loom.ribbons[i].frame] = i;
  }
  for (std::size_t i = 0; i < loom.ribbons.size(); ++i) {
    const int light = loom.scans[loom.ribbons[i].scan].light;
    ties.of_light[light].push_back(static_cast<int>(i));
    if (loom.frames[loom.ribbons[i].frame].light != light) ties.astray.push_back(static_cast<int>(i));
  }
  return ties;
}

std::optional<std::vector<char>> LightsThatDiffer(const Loom& was, const Loom& now) {
  if (was.lights.size() != now.lights.size() || was.frames.size() != now.frames.size() ||
      was.scans.size() != now.scans.size() || was.ribbons.size() != now.ribbons.size() ||
      was.rolls != now.rolls || was.no_scans != now.no_scans || was.no_frames != now.no_frames)
    return std::nullopt;
  std::vector<char> differ(now.lights.size(), 0);
  for (std::size_t i = 0; i < now.lights.size(); ++i) differ[i] = !(was.lights[i] == now.lights[i]);
  // Of each strip: another picture, or one of another shape, moves all that lies beside it.
  const auto compare = [&differ](const auto& a, const auto& b) {
    for (std::size_t i = 0; i < b.size(); ++i) {
      if (a[i].id != b[i].id || a[i].light != b[i].light || a[i].aspect != b[i].aspect) return false;
      if (!(a[i] == b[i])) differ[b[i].light] = 1;
    }
    return true;
  };
  if (!compare(was.frames, now.frames) || !compare(was.scans, now.scans)) return std::nullopt;
  for (std::size_t i = 0; i < now.ribbons.size(); ++i) {
    const LoomRibbon &a = was.ribbons[i], &b = now.ribbons[i];
    if (a.scan != b.scan || a.frame != b.frame) return std::nullopt;
    if (!(a == b)) differ[now.scans[b.scan].light] = differ[now.frames[b.frame].light] = 1;
  }
  return differ;
}

double RibbonThickness(double confidence) { return 1 + 8 * std::pow(std::clamp(confidence, 0.0, 1.0), 1.7); }

LoomLayout LayOutLoom(const Loom& loom, const LoomGaze& gaze) {
  LoomLayout out;
  out.lights.resize(loom.lights.size());
  out.scans.resize(loom.scans.size());
  out.frames.resize(loom.frames.size());
  out.open.resize(loom.lights.size());
  std::vector<int> frame_of(loom.scans.size(), -1);
  for (const LoomRibbon& ribbon : loom.ribbons) frame_of[ribbon.scan] = ribbon.frame;
  const std::vector<Light> widths = LightWidths(loom, gaze);
  double x = 0;
  for (std::size_t i = 0; i < widths.size(); ++i) {
    const LoomLight& light = loom.lights[i];
    const double width = widths[i].width, open = widths[i].open;
    out.lights[i] = {x, width};
    out.open[i] = open;
    // A hair of the ground shows between lights.
    const double inner_x = x + 1, inner = std::max(1.0, width - 2);
    std::vector<double> natural(light.frames);
    for (int k = 0; k < light.frames; ++k)
      natural[k] = loom.frames[light.first_frame + k].aspect * gaze.strip_height;
    const double focus = gaze.at - light.first_frame;
    std::vector<double> opened = FallOff(natural, focus, inner);
    double sum = 0;
    for (double w : opened) sum += w;
    // Few pictures in a wide light: they share it, none wider than twice its own width.
    const double grow = sum > 0 ? std::min(2.0, inner / sum) : 1;
    double at = inner_x, folded_at = inner_x;
    const double slit = light.frames > 0 ? inner / light.frames : 0;
    const double margin = std::max(0.0, (inner - sum * std::max(1.0, grow)) / 2);
    at += margin;
    for (int k = 0; k < light.frames; ++k) {
      const double w = opened[k] * std::max(1.0, grow);
      out.frames[light.first_frame + k] = {Mix(folded_at, at, open), Mix(slit, w, open)};
      at += w;
      folded_at += slit;
    }
    // A scan lies above its frame and is about as wide.
    std::vector<double> wished(light.scans), wide(light.scans);
    const double scan_slit = light.scans > 0 ? inner / light.scans : 0;
    double last = inner_x;
    for (int k = 0; k < light.scans; ++k) {
      const int index = light.first_scan + k;
      const double full = loom.scans[index].aspect * gaze.strip_height;
      const int frame = frame_of[index];
      if (frame >= 0 && loom.frames[frame].light == static_cast<int>(i)) {
        const LoomSpan& span = out.frames[frame];
        wished[k] = span.centre();
        wide[k] = std::min(full, 1.35 * span.w);
      } else {
        wide[k] = std::min(full, std::max(scan_slit * 0.5, full * 0.6));
        wished[k] = last + wide[k] / 2;
      }
      last = wished[k] + wide[k] / 2;
    }
    std::vector<LoomSpan> placed(light.scans);
    Place(wished, wide, inner_x, inner, placed.data());
    for (int k = 0; k < light.scans; ++k)
      out.scans[light.first_scan + k] = {Mix(inner_x + k * scan_slit, placed[k].x, open),
                                         Mix(scan_slit, placed[k].w, open)};
    x += width;
  }
  out.total = x;
  return out;
}

LoomLayout Between(const LoomLayout& a, const LoomLayout& b, double t) {
  LoomLayout out = b;
  const auto mix = [t](const std::vector<LoomSpan>& from, std::vector<LoomSpan>& to) {
    for (std::size_t i = 0; i < to.size() && i < from.size(); ++i)
      to[i] = {Mix(from[i].x, to[i].x, t), Mix(from[i].w, to[i].w, t)};
  };
  mix(a.lights, out.lights);
  mix(a.scans, out.scans);
  mix(a.frames, out.frames);
  for (std::size_t i = 0; i < out.open.size() && i < a.open.size(); ++i)
    out.open[i] = Mix(a.open[i], b.open[i], t);
  out.total = Mix(a.total, b.total, t);
  return out;
}

int SpanAt(const std::vector<LoomSpan>& spans, double x) {
  const auto it =
      std::upper_bound(spans.begin(), spans.end(), x, [](double at, const LoomSpan& s) { return at < s.x; });
  if (it == spans.begin()) return -1;
  const int i = static_cast<int>(it - spans.begin()) - 1;
  return spans[i].holds(x) ? i : -1;
}

int NearestSpan(const std::vector<LoomSpan>& spans, double x) {
  int best = -1;
  for (std::size_t i = 0; i < spans.size(); ++i)
    if (best < 0 || std::abs(spans[i].centre() - x) < std::abs(spans[best].centre() - x))
      best = static_cast<int>(i);
  return best;
}

}  // namespace samelight::window
