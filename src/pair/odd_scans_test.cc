#include "pair/odd_scans.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;
using record::PairKind;
using ::testing::HasSubstr;

// Three invented scenes, two frames each, and one scan of scene 2 that something was done to.
class OddScan : public ::testing::Test {
 protected:
  struct Filmless {
    Session s;
    std::map<PhotoId, int> scene_of;
  };
  // The frames are made once and copied.
  static const Filmless& Frames() {
    static const Filmless frames = [] {
      Filmless f;
      for (int scene : {0, 2, 4})
        for (int k = 0; k < 2; ++k)
          f.scene_of[f.s.AddFrame(scene,
                                  10 * static_cast<std::uint64_t>(scene) + static_cast<std::uint64_t>(k),
                                  3600.0 * scene + 5 * k)] = scene;
      return f;
    }();
    return frames;
  }
  image::RgbF Plain(int scene, std::uint64_t seed = 77, double turn_deg = 0) {
    Dice dice(seed);
    Framing f = s_.Near(dice);
    f.angle_deg += turn_deg;
    Rendering r = AnotherRendering(dice);
    r.exposure_ev = -0.3;
    return SeenAgain(Session::Scene(scene), f, r, seed);
  }
  // The pair of the scan, and what was noted of it.
  record::Pair PairOf(const image::RgbF& scan) {
    id_ = s_.AddMeasuredScan(scan);
    pairing_ = s_.Pair();
    for (const record::Note& n : pairing_.notes)
      if (n.photo == id_) said_ += n.text + "; ";
    return pairing_.pairs.at(0);
  }
  void ExpectScene(const record::Pair& pair, int scene) {
    EXPECT_EQ(pair.kind, PairKind::kMoment);
    ASSERT_TRUE(pair.frame.valid());
    EXPECT_EQ(scene_of_.at(pair.frame), scene);
  }
  Session s_ = Frames().s;
  std::map<PhotoId, int> scene_of_ = Frames().scene_of;
  PhotoId id_;
  Pairing pairing_;
  std::string said_;
};

void Fill(image::RgbF& p, int x0, int y0, int x1, int y1, float r, float g, float b) {
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) {
      float* q = p.at(x, y);
      q[0] = r, q[1] = g, q[2] = b;
    }
}

TEST_F(OddScan, CroppedAndTurned) {
  const image::RgbF whole = Plain(2, 77, 90);
  image::RgbF part(420, 400);
  for (int y = 0; y < part.height(); ++y)
    for (int x = 0; x < part.width(); ++x) std::copy_n(whole.at(x + 180, y + 90), 3, part.at(x, y));
  ExpectScene(PairOf(part), 2);
}

TEST_F(OddScan, WithTheHoldersBorder) {
  image::RgbF p = Plain(2);
  const int w = p.width(), h = p.height(), b = 40;
  Fill(p, 0, 0, w, b, 0.004f, 0.004f, 0.004f);
  Fill(p, 0, h - b, w, h, 0.004f, 0.004f, 0.004f);
  Fill(p, 0, 0, b, h, 0.004f, 0.004f, 0.004f);
  Fill(p, w - b, 0, w, h, 0.004f, 0.004f, 0.004f);
  ExpectScene(PairOf(p), 2);
  for (const measure::Keypoint& k : s_.FactsOf(id_).features.points) {
    EXPECT_GT(k.x * static_cast<float>(w), b - 8);
    EXPECT_LT(k.x * static_cast<float>(w), w - b + 8);
  }
  for (const record::Correspondence& c : pairing_.scan_to_frame)
    for (const record::Cell& cell : c.cells) EXPECT_GT(cell.ax * static_cast<float>(w), b - 8);
}

TEST_F(OddScan, WithDust) {
  image::RgbF p = Plain(2);
  Dice dice(5);
  for (int k = 0; k < 300; ++k) {
    const int x = static_cast<int>(dice.Uniform(4, p.width() - 8)),
              y = static_cast<int>(dice.Uniform(4, p.height() - 8));
    Fill(p, x, y, x + 3, y + 2, 0.95f, 0.95f, 0.95f);
  }
  ExpectScene(PairOf(p), 2);
}

TEST_F(OddScan, WithALightLeak) {
  image::RgbF p = Plain(2);
  for (int y = 0; y < p.height(); ++y)
    for (int x = 0; x < p.width() / 3; ++x) {
      const float leak = 0.5f * (1 - 3.f * static_cast<float>(x) / static_cast<float>(p.width()));
      float* q = p.at(x, y);
      q[0] += leak, q[1] += 0.25f * leak, q[2] += 0.03f * leak;
    }
  ExpectScene(PairOf(p), 2);
  EXPECT_THAT(said_, HasSubstr("light leak"));
  std::size_t worst = 0, all = 0;  // bright places that the leak hardly changes may stay
  for (const record::Correspondence& c : pairing_.scan_to_frame)
    for (const record::Cell& cell : c.cells) {
      ++all;
      worst += cell.ax < 0.15;
    }
  EXPECT_LT(20 * worst, all);
  EXPECT_GT(all, 100u);
}

TEST_F(OddScan, AScanWithoutLeakKeepsItsCells) {
  ExpectScene(PairOf(Plain(2)), 2);
  EXPECT_EQ(said_, "");
}

TEST_F(OddScan, TwoExposuresAreSetAsideAndAPersonMayJoinThem) {
  image::RgbF p = Plain(2, 71), other = Plain(4, 72);
  for (std::size_t i = 0; i < p.data().size(); ++i) p.data()[i] = 0.5f * (p.data()[i] + other.data()[i]);
  const record::Pair pair = PairOf(p);
  EXPECT_EQ(pair.kind, PairKind::kNone);
  EXPECT_THAT(said_, HasSubstr("two exposures"));
  EXPECT_TRUE(pairing_.scan_to_frame.empty());
  ASSERT_FALSE(pair.alternatives.empty());
  s_.word.joined = {{id_, pair.alternatives[0].frame}};
  EXPECT_EQ(s_.Pair().pairs[0].frame, pair.alternatives[0].frame);
}

TEST_F(OddScan, ABurntFirstFrame) {
  image::RgbF p = Plain(2);
  Fill(p, 0, 0, p.width() * 9 / 20, p.height(), 1, 1, 1);  // the leader, exposed while loading
  ExpectScene(PairOf(p), 2);
  for (const record::Correspondence& c : pairing_.scan_to_frame)
    for (const record::Cell& cell : c.cells) EXPECT_GT(cell.ax, 0.44);
}

TEST_F(OddScan, AFrameThatIsBurntAltogether) {
  image::RgbF p = Plain(2);
  Fill(p, 0, 0, p.width(), p.height(), 1, 1, 1);
  EXPECT_EQ(PairOf(p).kind, PairKind::kNone);
  EXPECT_NE(said_, "");
}

}  // namespace
}  // namespace samelight::pair
