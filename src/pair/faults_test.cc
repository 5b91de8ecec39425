// How often the technical faults of scans are told, and how often falsely: invented scenes and faults of many
// strengths, with seeds that nothing was tuned on.
#include <gtest/gtest.h>

#include <cstdio>

#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;
using record::PairKind;

constexpr int kScenes = 4;

struct Rate {
  int hit = 0, all = 0;
  void Add(bool yes) {
    hit += yes;
    ++all;
  }
  double share() const { return all == 0 ? 0 : static_cast<double>(hit) / all; }
};

// Smaller where x is farther from the edge on `side` (left, right, top, bottom): 0 at the edge, 1 opposite.
double FromEdge(const image::RgbF& p, int side, int x, int y) {
  const double u = (x + 0.5) / p.width(), v = (y + 0.5) / p.height();
  return side == 0 ? u : side == 1 ? 1 - u : side == 2 ? v : 1 - v;
}
double FromEdge(const record::Cell& c, int side) {
  return side == 0 ? c.ax : side == 1 ? 1 - c.ax : side == 2 ? c.ay : 1 - c.ay;
}

struct Scan {
  PhotoId id;
  int scene = 0, side = 0;
  double deep = 0;
};

class Faults {
 public:
  explicit Faults(std::uint64_t seed) : dice_(seed * 4409 + 3), seed_(seed) {
    s_.width_px = 540;
    s_.height_px = 405;
    for (int scene = 0; scene < kScenes; ++scene)
      for (std::uint64_t k = 0; k < 3; ++k)
        scene_of_[s_.AddFrame(SceneOf(scene), seed * 100 + static_cast<std::uint64_t>(scene) * 10 + k,
                              36000 + 3600.0 * scene + 6 * static_cast<double>(k))] = scene;
  }
  image::RgbF Plain(int scene) {
    Framing f = s_.Near(dice_);
    f.zoom = dice_.Uniform(1, 1.6);
    Rendering r = AnotherRendering(dice_);
    r.exposure_ev = dice_.Uniform(-1, 0.3);
    return SeenAgain(Session::Scene(SceneOf(scene)), f, r,
                     seed_ * 1000 + static_cast<std::uint64_t>(++made_));
  }
  Scan Add(const image::RgbF& p, int scene, int side = 0, double deep = 0) {
    return {s_.AddMeasuredScan(p, ++rolls_), scene, side, deep};
  }
  Scan Leak(int scene) {
    image::RgbF p = Plain(scene);
    const int side = Any(4);
    const double deep = dice_.Uniform(0.15, 0.4), strength = dice_.Uniform(0.2, 0.8);
    const double green = dice_.Uniform(0.1, 0.4);
    for (int y = 0; y < p.height(); ++y)
      for (int x = 0; x < p.width(); ++x) {
        const double leak = strength * std::max(0.0, 1 - FromEdge(p, side, x, y) / deep);
        float* q = p.at(x, y);
        q[0] += static_cast<float>(leak);
        q[1] += static_cast<float>(green * leak);
        q[2] += static_cast<float>(0.1 * green * leak);
      }
    return Add(p, scene, side, deep);
  }
  Scan Double(int scene) {
    image::RgbF p = Plain(scene);
    const image::RgbF other = Plain((scene + 1 + Any(kScenes - 1)) % kScenes);
    const float share = static_cast<float>(dice_.Uniform(0.35, 0.65));
    for (std::size_t i = 0; i < p.data().size(); ++i)
      p.data()[i] = share * p.data()[i] + (1 - share) * other.data()[i];
    return Add(p, scene);
  }
  Scan Burnt(int scene) {  // the leader, exposed while loading, with a soft edge
    image::RgbF p = Plain(scene);
    const int side = Any(2);
    const double deep = dice_.Uniform(0.2, 0.5);
    for (int y = 0; y < p.height(); ++y)
      for (int x = 0; x < p.width(); ++x) {
        const double in = std::clamp((deep - FromEdge(p, side, x, y)) / 0.02, 0.0, 1.0);
        for (int c = 0; c < 3; ++c) p.at(x, y)[c] += static_cast<float>(in) * (1.2f - p.at(x, y)[c]);
      }
    return Add(p, scene, side, deep);
  }
  Scan Border(int scene) {
    image::RgbF p = Plain(scene);
    const double deep = dice_.Uniform(0.03, 0.08);
    const float level = Any(2) ? 0.004f : 0.95f;
    for (int y = 0; y < p.height(); ++y)
      for (int x = 0; x < p.width(); ++x)
        for (int side = 0; side < 4; ++side)
          if (FromEdge(p, side, x, y) < deep) std::fill_n(p.at(x, y), 3, level);
    return Add(p, scene, 0, deep);
  }
  Scan Dust(int scene) {
    image::RgbF p = Plain(scene);
    for (int k = static_cast<int>(dice_.Uniform(100, 500)); k > 0; --k) {
      const int x0 = Any(p.width() - 4), y0 = Any(p.height() - 4);
      for (int y = y0; y < y0 + 2; ++y)
        for (int x = x0; x < x0 + 3; ++x) std::fill_n(p.at(x, y), 3, 0.95f);
    }
    return Add(p, scene);
  }
  void Pair() {
    pairing_ = s_.Pair();
    for (const record::Pair& p : pairing_.pairs) pair_[p.scan] = p;
    for (const record::Note& n : pairing_.notes) said_[n.photo] += n.text + "; ";
  }
  bool Right(const Scan& s) const {
    const record::Pair& p = pair_.at(s.id);
    return p.kind == PairKind::kMoment && scene_of_.at(p.frame) == s.scene;
  }
  bool Wrong(const Scan& s) const { return pair_.at(s.id).kind != PairKind::kNone && !Right(s); }
  bool Says(const Scan& s, const std::string& what) const {
    const auto it = said_.find(s.id);
    return it != said_.end() && it->second.find(what) != std::string::npos;
  }
  bool IsOpen(const Scan& s) const { return pair_.at(s.id).kind == PairKind::kNone; }
  // Share of the scan's cells that lie within `deep` of the edge.
  double CellsWithin(const Scan& s, double deep, bool any_side) const {
    int in = 0, all = 0;
    for (const record::Correspondence& c : pairing_.scan_to_frame)
      if (c.a == s.id)
        for (const record::Cell& cell : c.cells) {
          double from = FromEdge(cell, s.side);
          for (int side = 0; any_side && side < 4; ++side) from = std::min(from, FromEdge(cell, side));
          in += from < deep;
          ++all;
        }
    return all == 0 ? 0 : static_cast<double>(in) / all;
  }

 private:
  int SceneOf(int scene) const { return 20 + static_cast<int>(seed_ % 5) * kScenes + scene; }
  int Any(int n) { return std::min(n - 1, static_cast<int>(dice_.Uniform(0, n))); }
  Dice dice_;
  std::uint64_t seed_;
  Session s_;
  int rolls_ = 0, made_ = 0;
  std::map<PhotoId, int> scene_of_;
  Pairing pairing_;
  std::map<PhotoId, record::Pair> pair_;
  std::map<PhotoId, std::string> said_;
};

void Print(const char* what, const Rate& rate) {
  std::printf("  %-46s %3d of %3d (%.2f)\n", what, rate.hit, rate.all, rate.share());
}

TEST(LargeFaults, AreToldOftenAndNotFalsely) {
  const std::string kLeak = "light leak", kTwo = "two exposures", kWhite = "clipped white";
  Rate leak, leak_out, leak_right, two, two_wrong, burnt_right, burnt_said, burnt_out, border_right,
      border_out, dust_right, plain_right, false_leak, false_two, false_white, wrong;
  for (std::uint64_t seed = 1201; seed < 1207; ++seed) {
    Faults day(seed);
    std::vector<Scan> plain, leaks, doubles, burnts, borders, dusts;
    for (int k = 0; k < 2; ++k) {
      plain.push_back(day.Add(day.Plain(k), k));
      leaks.push_back(day.Leak(k));
      leaks.push_back(day.Leak(k + 2));
      doubles.push_back(day.Double(k));
      doubles.push_back(day.Double(k + 2));
      burnts.push_back(day.Burnt(k));
      borders.push_back(day.Border(k + 2));
      dusts.push_back(day.Dust(k));
    }
    day.Pair();
    for (const Scan& s : leaks) {
      leak.Add(day.Says(s, kLeak));
      leak_right.Add(day.Right(s));
      leak_out.Add(day.CellsWithin(s, 0.3 * s.deep, false) < 0.02);
    }
    for (const Scan& s : doubles) {
      two.Add(day.Says(s, kTwo));
      two_wrong.Add(!day.IsOpen(s));
    }
    for (const Scan& s : burnts) {
      burnt_right.Add(day.Right(s));
      burnt_said.Add(day.Says(s, kWhite) || day.Says(s, "burnt"));
      burnt_out.Add(day.CellsWithin(s, s.deep - 0.02, false) == 0);
    }
    for (const Scan& s : borders) {
      border_right.Add(day.Right(s));
      border_out.Add(day.CellsWithin(s, s.deep - 0.005, true) == 0);
    }
    for (const Scan& s : dusts) dust_right.Add(day.Right(s));
    for (const Scan& s : plain) plain_right.Add(day.Right(s));
    for (const auto* of : {&plain, &borders, &dusts})
      for (const Scan& s : *of) {
        false_leak.Add(day.Says(s, kLeak));
        false_two.Add(day.Says(s, kTwo));
        false_white.Add(day.Says(s, kWhite));
      }
    for (const auto* of : {&plain, &leaks, &burnts, &borders, &dusts})
      for (const Scan& s : *of) wrong.Add(day.Wrong(s));
  }
  Print("light leaks told", leak);
  Print("  their edge without cells", leak_out);
  Print("  right frame", leak_right);
  Print("leaks told where there is none", false_leak);
  Print("double exposures set aside with a word", two);
  Print("  paired in spite of it", two_wrong);
  Print("double exposures told where there is none", false_two);
  Print("burnt first frames, right frame", burnt_right);
  Print("  told", burnt_said);
  Print("  burnt part without cells", burnt_out);
  Print("burnt told where nothing is", false_white);
  Print("borders, right frame", border_right);
  Print("  border without cells", border_out);
  Print("dust, right frame", dust_right);
  Print("plain scans, right frame", plain_right);
  Print("wrong frame, of all but double exposures", wrong);
  EXPECT_EQ(wrong.hit, 0);
  EXPECT_GE(leak.share(), 0.75);
  EXPECT_GE(two.share(), 0.8);
  EXPECT_LE(two_wrong.share(), 0.15);
  for (const Rate* each : {&leak_out, &leak_right, &burnt_right, &burnt_said, &burnt_out, &border_right,
                           &dust_right, &plain_right})
    EXPECT_GE(each->share(), 0.95);
  EXPECT_GE(border_out.share(), 0.8);
  for (const Rate* each : {&false_leak, &false_two, &false_white}) EXPECT_LE(each->share(), 0.03);
}

}  // namespace
}  // namespace samelight::pair
