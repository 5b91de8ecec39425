#include "pair/relight.h"

#include <algorithm>
#include <cmath>
#include <set>

namespace samelight::pair {
namespace {

// Spread of the difference of two linked moments in one light; measured on invented sessions: half differ by
// less than 10 mired, 0.003 Duv, 0.2 EV.
constexpr double kMiredSpread = 15, kDuvSpread = 4.5e-3, kLevelSpread_ev = 0.9, kBacklightSpread_ev = 0.6;
constexpr int kReach = 5;              // frames on each side
constexpr double kPause_s = 10 * 60;   // and their longest time apart
constexpr std::size_t kMostLinks = 4;  // links of one moment repeat each other
constexpr double kMostNats = 24;

// Negative logarithm of a Student t (3 degrees of freedom) of the difference, zero at none.
double Difference(const Moment& a, const Moment& b) {
  double squares = 0;
  const auto add = [&](double difference, double spread) {
    squares += difference * difference / (spread * spread);
  };
  if (std::min(a.white_trust, b.white_trust) > kTrustedWhite) {
    add(a.mired - b.mired, kMiredSpread);
    add(a.duv - b.duv, kDuvSpread);
  }
  if (a.brightness_ev && b.brightness_ev) add(*a.brightness_ev - *b.brightness_ev, kLevelSpread_ev);
  if (a.backlight_ev && b.backlight_ev) add(*a.backlight_ev - *b.backlight_ev, kBacklightSpread_ev);
  return 2 * std::log1p(std::max(0.0, squares - 3) / 3);  // three terms give 3 by chance
}

}  // namespace

std::vector<double> RelitNats(const std::vector<Moment>& moments, const std::vector<Link>& links) {
  const int n = static_cast<int>(moments.size());
  if (n < 2) return {};
  struct Over {
    std::vector<double> nats;
    std::set<int> before, after;
  };
  std::vector<Over> over(n - 1);
  for (const Link& l : links) {
    const int low = std::min(l.first, l.second), high = std::max(l.first, l.second);
    if (high - low > kReach || !Near(moments[low], moments[high], kPause_s)) continue;
    const double nats = Difference(moments[low], moments[high]);
    for (int i = low; i < high; ++i) {
      over[i].nats.push_back(nats);
      over[i].before.insert(low);
      over[i].after.insert(high);
    }
  }
  std::vector<double> out(n - 1, 0);
  for (int i = 0; i + 1 < n; ++i) {
    Over& o = over[i];
    const std::size_t least_before = std::min(3, i + 1), least_after = std::min(3, n - 1 - i);
    if (o.before.size() < least_before || o.after.size() < least_after || o.nats.empty()) continue;
    std::sort(o.nats.begin(), o.nats.end());
    const double agreed = o.nats[o.nats.size() / 4];
    out[i] = std::min(kMostNats, agreed * static_cast<double>(std::min(kMostLinks, o.nats.size())));
  }
  return out;
}

}  // namespace samelight::pair
