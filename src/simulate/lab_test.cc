#include "simulate/lab.h"

#include <gtest/gtest.h>

#include <cmath>

#include "simulate/random.h"

namespace samelight::simulate {
namespace {

image::RgbF One(const Vec3& v) {
  image::RgbF out(1, 1);
  for (int c = 0; c < 3; ++c) out.data()[c] = static_cast<float>(v[c]);
  return out;
}

TEST(Lab, TableIsWithinItsStatedError) {
  auto stocks = MakeStocks(1);
  for (const Stock& stock : MakeStocks(1, World::kUnseen)) stocks.push_back(stock);
  for (std::size_t i = 0; i < stocks.size(); ++i) {
    const Stock& stock = stocks[i];
    const Lab lab(stock, 1, 0, i < 4 ? World::kUsual : World::kUnseen);
    Random random(3);
    double worst = 0;
    for (int k = 0; k < 400; ++k) {
      const Vec3 dyes{random.Uniform(0, 2.5), random.Uniform(0, 2.5), random.Uniform(0, 2.5)};
      const image::RgbF quick = lab.Scan(One(dyes));
      const Vec3 exact = lab.ScanExactly({quick.empty() ? 0 : static_cast<float>(dyes[0]),
                                          static_cast<float>(dyes[1]), static_cast<float>(dyes[2])});
      for (int c = 0; c < 3; ++c) worst = std::max(worst, std::abs(quick.data()[c] - exact[c]));
    }
    EXPECT_LT(worst, 0.003) << stock.name;
  }
}

TEST(Lab, GreyOneStopOverIsZero) {
  const Stock stock = MakeStocks(2)[2];
  const Lab lab(stock, 2);
  const double e = std::log10(2.0);
  const Vec3 d = lab.ScanExactly(DyesOf(stock, {e, e, e}, 0));
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(d[c], 0, 1e-6);
}

TEST(Lab, PositiveRisesWithLightAndStaysInRange) {
  const Stock stock = MakeStocks(2)[0];
  const Lab lab(stock, 2);
  float last[3] = {-1, -1, -1};
  for (double e = -3; e < 3; e += 0.1) {
    const image::RgbF p = lab.Print(lab.Scan(One(DyesOf(stock, {e, e, e}, 0))), {});
    for (int c = 0; c < 3; ++c) {
      EXPECT_GE(p.data()[c], last[c] - 1e-6f);
      EXPECT_GE(p.data()[c], 0);
      EXPECT_LE(p.data()[c], 1);
      last[c] = p.data()[c];
    }
  }
  EXPECT_GT(last[1], 0.9f);
}

// A scene of greys and mild colours, exposed more or less, under light of another colour.
image::RgbF Scene(const Stock& stock, const Lab& lab, double over_ev, double red_ev) {
  image::RgbF exposure(64, 64);
  Random random(11);
  for (std::size_t i = 0; i < exposure.pixels(); ++i) {
    const double grey = 0.18 * std::exp2(random.Normal(0, 1.4));
    for (int c = 0; c < 3; ++c)
      exposure.data()[3 * i + c] =
          static_cast<float>(grey * std::exp2(random.Normal(0, 0.15) + (c == 0 ? red_ev : 0)));
  }
  Development how;
  how.over_ev = 1 + over_ev;
  how.halation = false;
  return lab.Scan(Develop(stock, exposure, how));
}

class LabOfAWorld : public testing::TestWithParam<World> {};
INSTANTIATE_TEST_SUITE_P(Lab, LabOfAWorld, testing::Values(World::kUsual, World::kUnseen));

TEST_P(LabOfAWorld, AutomatCorrectsPartOfAColourAndADensity) {
  const Stock stock = MakeStocks(1, GetParam())[0];
  const Lab lab(stock, 1, 0, GetParam());
  const auto card = [&](double over_ev, double red_ev) {
    const double e = 0.30103 * (1 + over_ev);
    return lab.ScanExactly(DyesOf(stock, {e + 0.30103 * red_ev, e, e}, 0));
  };
  const auto normal = lab.Automatic(Scene(stock, lab, 0, 0), card(0, 0)),
             over = lab.Automatic(Scene(stock, lab, 1, 0), card(1, 0)),
             red = lab.Automatic(Scene(stock, lab, 0, 0.5), card(0, 0.5));
  for (int c = 0; c < 3; ++c)
    EXPECT_LT(over.shift[c], normal.shift[c] - 0.03);  // denser negative: printed down
  EXPECT_LT(red.shift[0], normal.shift[0] - 0.02);     // red light: red taken back
  const auto cast = [&](const LabSetting& s) { return s.shift[0] - s.shift[1]; };
  const double all = [&] {
    double sum = 0;
    const auto a = Scene(stock, lab, 0, 0.5), b = Scene(stock, lab, 0, 0);
    for (std::size_t i = 0; i < a.pixels(); ++i)
      sum += (a.data()[3 * i] - a.data()[3 * i + 1]) - (b.data()[3 * i] - b.data()[3 * i + 1]);
    return sum / a.pixels();
  }();
  EXPECT_LT(-(cast(red) - cast(normal)), 0.9 * all);  // never all of it
  EXPECT_GT(-(cast(red) - cast(normal)), 0.3 * all);
}

TEST(Lab, BlackAndWhiteStaysGrey) {
  const Stock stock = MakeStocks(1)[3];
  const Lab lab(stock, 1);
  const Vec3 d = lab.ScanExactly(DyesOf(stock, {0.3, 0.3, 0.3}, 0));
  EXPECT_NEAR(d[0], d[1], 1e-6);
  EXPECT_NEAR(d[1], d[2], 1e-6);
}

}  // namespace
}  // namespace samelight::simulate
