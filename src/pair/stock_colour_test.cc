// Invented films, labs and lights before measured cameras and surfaces, by spectra (spectral_testing.h). The
// variances were taken from seeds 1 to 5, how far the odds count from seeds 1 to 20 of these series; the
// tests use others.
#include "pair/stock_colour.h"

#include <gtest/gtest.h>

#include <cmath>
#include <deque>
#include <map>

#include "pair/spectral_testing.h"

namespace samelight::pair {
namespace {

using simulate::LightKind;

struct Exposed {
  int light, stock, body;
};

// A day of nine lights, three stocks of one lab, two digital bodies.
class Day {
 public:
  explicit Day(int seed) : seed_(seed), random_(static_cast<std::uint64_t>(seed), {1}) {
    stocks_ = simulate::MakeStocks(static_cast<std::uint64_t>(seed) * 3 + 1);
    first_ = random_.Below(3);
    second_ = (first_ + 1 + random_.Below(2)) % 3;
    for (int k : {first_, second_}) {
      labs_.emplace(
          k, simulate::Lab(stocks_[static_cast<std::size_t>(k)], static_cast<std::uint64_t>(seed) * 17 + 3));
      bodies_.push_back(simulate::MakeCamera((seed + static_cast<int>(bodies_.size())) % 4,
                                             static_cast<std::uint64_t>(seed)));
    }
    const LightKind kinds[] = {LightKind::kWindow,     LightKind::kOpenShade, LightKind::kNoonSun,
                               LightKind::kUnderTrees, LightKind::kOvercast,  LightKind::kEveningSun,
                               LightKind::kBlueHour,   LightKind::kBulbs,     LightKind::kCandles};
    const double mired[] = {165, 125, 190, 165, 150, 260, 110, 350, 450};
    for (std::size_t l = 0; l < std::size(kinds); ++l) {
      lights_.push_back(simulate::MakeLighting(kinds[l], static_cast<std::uint64_t>(seed) * 31 + l, false));
      mired_.push_back(mired[l] + random_.Normal(0, 8));
    }
  }
  int first() const { return first_; }
  int second() const { return second_; }
  int Some() { return 10 + random_.Below(7); }
  // `count` scans over the lights [from, to) in their order, each beside a frame of either body or of one.
  void Expose(std::vector<Exposed>& roll, int stock, int from, int to, int count, int body = -1) {
    for (int k = 0; k < count; ++k)
      roll.push_back({from + (to - from) * k / count, stock, body < 0 ? random_.Chance(0.4) : body});
  }
  std::optional<StockChange> ChangeOf(const std::vector<Exposed>& roll) const {
    std::deque<record::Correspondence> matches;
    std::vector<FilmedPlaces> places;
    for (std::size_t i = 0; i < roll.size(); ++i) {
      const auto& [light, stock, body] = roll[i];
      const auto seed = static_cast<std::uint64_t>(seed_) * 1000 + i;
      const simulate::Lighting& lit = lights_[static_cast<std::size_t>(light)];
      const testing::SpectralScene scene = testing::MakeScene(seed, lit);
      matches.push_back(testing::Matched(
          testing::ScanOf(stocks_[static_cast<std::size_t>(stock)], labs_.at(stock), scene, lit, seed),
          testing::RawOf(bodies_[static_cast<std::size_t>(body)], scene, lit, seed), seed));
      places.push_back(
          {&matches.back(), static_cast<int>(i), body, light, mired_[static_cast<std::size_t>(light)]});
    }
    return StockColours(places).Change(static_cast<int>(roll.size()), 0.9);
  }

 private:
  int seed_, first_ = 0, second_ = 0;
  simulate::Random random_;
  std::vector<simulate::Stock> stocks_;
  std::map<int, simulate::Lab> labs_;
  std::vector<simulate::Camera> bodies_;
  std::vector<simulate::Lighting> lights_;
  std::vector<double> mired_;
};

TEST(LargeStockColour, TwoStocksInOneSeriesAreToldApartAndOneOverManyLightsIsNot) {
  int told = 0, right = 0, two = 0, falsely = 0, one = 0;
  for (int seed = 301; seed < 307; ++seed) {
    Day day(seed);
    std::vector<Exposed> bodies, changed, plain, moved;
    const int here = day.Some(), there = day.Some();
    // Two film bodies through the day, one after the other in the series; and a change in the afternoon.
    day.Expose(bodies, day.first(), 0, 9, here);
    day.Expose(bodies, day.second(), 0, 9, there);
    day.Expose(changed, day.first(), 0, 5, here);
    day.Expose(changed, day.second(), 4, 8, there);
    for (const std::vector<Exposed>* roll : {&bodies, &changed}) {
      const std::optional<StockChange> change = day.ChangeOf(*roll);
      ++two;
      told += change.has_value();
      right += change && std::abs(change->at - here) <= 2;
    }
    // One stock: a whole day; the day beside one body and the night beside the other.
    day.Expose(plain, day.first(), 0, 9, here + there);
    day.Expose(moved, day.first(), 0, 6, here, 0);
    day.Expose(moved, day.first(), 6, 9, there, 1);
    for (const std::vector<Exposed>* roll : {&plain, &moved}) {
      ++one;
      falsely += day.ChangeOf(*roll).has_value();
    }
  }
  std::printf("  two stocks: %d of %d told, %d of them right; one stock: %d of %d taken for two\n", told, two,
              right, falsely, one);
  EXPECT_EQ(falsely, 0);
  EXPECT_EQ(right, told);
  EXPECT_GE(told, two * 4 / 10);
}

TEST(StockColour, FewScansSayNothing) {
  Day day(5);
  std::vector<Exposed> roll;
  day.Expose(roll, day.first(), 0, 9, 3);
  day.Expose(roll, day.second(), 0, 9, 3);
  EXPECT_FALSE(day.ChangeOf(roll).has_value());
  EXPECT_EQ(StockColours({}).TwoStocks({}), 0);
  EXPECT_FALSE(StockColours({}).Change(0, 0).has_value());
}

// Bayes: posterior odds are prior odds times how much likelier what was seen is.
TEST(StockColour, BeliefIsTheOddsTimesWhatWasBelieved) {
  EXPECT_NEAR(Belief(std::log(3.0), 0.5), 0.75, 1e-12);
  EXPECT_NEAR(Belief(std::log(19.0), 0.05), 0.5, 1e-12);
}

}  // namespace
}  // namespace samelight::pair
