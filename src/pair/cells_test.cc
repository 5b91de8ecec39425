#include "pair/cells.h"

#include <gtest/gtest.h>

#include <set>
#include <tuple>

#include "pair/evidence.h"
#include "pair/reframe_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;

measure::Analysis AnalysisOf(image::RgbF pixels) {
  measure::Analysis a;
  a.labels = image::PlaneU8(pixels.width(), pixels.height());
  std::fill(a.labels.data().begin(), a.labels.data().end(), std::uint8_t{0});
  a.faces = a.labels;
  a.pixels = std::move(pixels);
  return a;
}

class Cells : public ::testing::Test {
 protected:
  // A scene, seen again; the map between them is known.
  void Make(std::uint64_t seed, bool mirrored, const Rendering& rendering) {
    Dice dice(seed);
    framing_ = AnotherFraming(dice);
    framing_.mirrored = mirrored;
    rendering_ = rendering;
    frame_ = AnalysisOf(Painted(seed));
    scan_ = AnalysisOf(SeenAgain(frame_.pixels, framing_, rendering, seed));
    truth_ = SceneFromView(frame_.pixels, framing_);
    const measure::Features a = measure::ExtractFeatures(scan_), b = measure::ExtractFeatures(frame_);
    verified_ = Verify(View(a, framing_.width_px, framing_.height_px),
                       View(b, frame_.pixels.width(), frame_.pixels.height()), 1000);
    ASSERT_TRUE(GoodForCells(verified_));
  }
  std::vector<record::Cell> Match(int most) {
    return MatchCells(Prepare(scan_), Prepare(frame_), verified_, most, true);
  }

  // px of the analysis picture between where the cell is and where it should be.
  double PlaceError(const record::Cell& c) const {
    const auto t = Transform(truth_, c.ax * framing_.width_px, c.ay * framing_.height_px);
    return std::hypot((*t)[0] - c.bx * frame_.pixels.width(), (*t)[1] - c.by * frame_.pixels.height());
  }

  Framing framing_;
  Rendering rendering_;
  measure::Analysis scan_, frame_;
  Homography truth_{};
  Verified verified_;
};

TEST_F(Cells, ShowTheSamePlacesAndTheTrueColours) {
  for (const bool mirrored : {false, true}) {
    Make(31 + mirrored, mirrored, {-1, 0.8, 1.3, 0.005, 0.03, false});
    const std::vector<record::Cell> cells = Match(1500);
    ASSERT_GT(cells.size(), 400u);
    std::vector<double> errors, colour;
    for (const record::Cell& c : cells) {
      errors.push_back(PlaceError(c));
      EXPECT_GT(c.weight, 0);
      for (int k = 0; k < 3; ++k)
        colour.push_back(std::abs(std::log2(c.a_rgb[k] / Rendered(c.b_rgb[k], k, rendering_))));
    }
    std::sort(errors.begin(), errors.end());
    std::sort(colour.begin(), colour.end());
    EXPECT_LT(errors[errors.size() / 2], 1.0);
    EXPECT_LT(errors[errors.size() * 95 / 100], 4.0);
    EXPECT_LT(colour[colour.size() / 2], 0.05);  // stops
    EXPECT_LT(colour[colour.size() * 9 / 10], 0.3);
  }
}

TEST_F(Cells, MaskedAndClippedPlacesAreNeverUsed) {
  Make(41, false, {0, 0, 1, 0, 0.02, false});
  const int w = frame_.pixels.width(), h = frame_.pixels.height();
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      if (x < w / 2 && y < h / 2)
        *frame_.labels.at(x, y) = static_cast<std::uint8_t>(record::RegionKind::kMasked);
      if (x > w / 2 && y > h / 2) frame_.pixels.at(x, y)[0] = 1.0f;
    }
  const std::vector<record::Cell> cells = Match(1500);
  ASSERT_GT(cells.size(), 100u);
  for (const record::Cell& c : cells)
    EXPECT_FALSE((c.bx < 0.495 && c.by < 0.495) || (c.bx > 0.505 && c.by > 0.505));
}

TEST_F(Cells, RareColoursAreKept) {
  Make(51, false, {0, 0, 1, 0, 0.02, false});
  const auto all = Match(1500), few = Match(150);
  ASSERT_EQ(few.size(), 150u);
  const auto classes = [](const std::vector<record::Cell>& cells) {
    std::set<std::tuple<int, int, int>> out;
    for (const record::Cell& c : cells)
      out.emplace(std::lround(std::log2(c.b_rgb[0]) / 2), std::lround(std::log2(c.b_rgb[1]) / 2),
                  std::lround(std::log2(c.b_rgb[2]) / 2));
    return out.size();
  };
  EXPECT_GE(classes(few) * 10, classes(all) * 7);
}

TEST_F(Cells, RegionAndFaceComeFromTheFrame) {
  Make(61, false, {0, 0, 1, 0, 0.02, false});
  for (int y = 0; y < frame_.pixels.height(); ++y)
    for (int x = 0; x < frame_.pixels.width() / 2; ++x) {
      *frame_.labels.at(x, y) = static_cast<std::uint8_t>(record::RegionKind::kSkin);
      *frame_.faces.at(x, y) = 3;
    }
  int skin = 0;
  for (const record::Cell& c : Match(800))
    if (c.bx < 0.49) {
      EXPECT_EQ(c.region, record::RegionKind::kSkin);
      EXPECT_EQ(c.face, 2);
      ++skin;
    } else if (c.bx > 0.51) {
      EXPECT_EQ(c.region, record::RegionKind::kOther);
      EXPECT_EQ(c.face, -1);
    }
  EXPECT_GT(skin, 50);
}

TEST_F(Cells, TinyPicturesGiveNone) {
  EXPECT_TRUE(
      MatchCells(Prepare(AnalysisOf(image::RgbF(30, 20))), Prepare(AnalysisOf(image::RgbF(1, 1))), {}, 10, true)
          .empty());
}

// A scan that is black where the frame still shows something tells how black the film is: synthetic truth, the darkest
// tenth of a painted scene printed as nothing.
TEST_F(Cells, BlackOfAScanCountsAndBlackOfAFrameDoesNot) {
  Make(33, false, {-1, 0.8, 1.3, 0.005, 0.0, false});
  image::PlaneF light = image::Luminance(scan_.pixels);
  std::nth_element(light.data().begin(), light.data().begin() + light.data().size() / 10, light.data().end());
  const float black = light.data()[light.data().size() / 10];
  for (std::size_t i = 0; i < scan_.pixels.pixels(); ++i) {
    float* p = scan_.pixels.data().data() + 3 * i;
    if (0.2627f * p[0] + 0.678f * p[1] + 0.0593f * p[2] < black) p[0] = p[1] = p[2] = 0;
  }
  const auto black_cells = [&](bool a_is_scan) {
    int n = 0;
    for (const record::Cell& c : MatchCells(Prepare(scan_), Prepare(frame_), verified_, 4000, a_is_scan))
      n += c.a_rgb[0] == 0 && c.a_rgb[1] == 0 && c.a_rgb[2] == 0;
    return n;
  };
  EXPECT_GE(black_cells(true), 5);
  EXPECT_EQ(black_cells(false), 0);
}

}  // namespace
}  // namespace samelight::pair
