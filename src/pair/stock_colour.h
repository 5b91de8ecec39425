// Which scans render colour alike: one stock or two.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "record/pair.h"

namespace samelight::pair {

// Matches of one scan (a) and a frame (b, raw; linear BT.2020), and what else decides how their colours go
// together.
struct FilmedPlaces {
  const record::Correspondence* matches = nullptr;
  int scan = 0;  // rank among the scans that are compared
  int body = 0;  // that took the frame
  int light = 0;
  double mired = 0;  // of the light
};

struct StockChange {
  int at = 0;  // rank of the first scan on the other stock
  double confidence = 0;
};

// Whether scans are on one stock or on two, by how red, green and blue of the scans follow those of the
// frames: a linear map of red - green, blue - green and level (and its square) on log2 axes. What a lab does
// to a single scan (density, colour) is taken out. The map is that of all scans, plus what each light (lights
// of like colour alike), each body and each scan add by chance, plus, if there are two stocks, their
// difference; all of them normal with known variances, so that the odds of two stocks against one are exact
// (Bayes factor of linear models). Lights that both sides share count fully, a stock that was filmed by day
// against one by night hardly.
class StockColours {
 public:
  // Matches with too few places are left out.
  explicit StockColours(const std::vector<FilmedPlaces>& places);

  // Natural logarithm of the odds, before any belief, that the scans of `second` (by rank) are on another
  // stock than the rest. `second`: of all ranks. 0 with fewer than four usable scans on either side.
  double TwoStocks(const std::vector<bool>& second) const;

  // The likeliest change along so many scans, four usable ones on each side at least; nullopt below `least`
  // confidence. Confidence: that there is a change within two scans of `at`, when one series in twenty holds
  // two colour stocks (a guess).
  std::optional<StockChange> Change(int scans, double least) const;

 private:
  struct Impl;
  std::shared_ptr<const Impl> impl_;
};

// Belief from log odds when this part of all cases is so beforehand.
double Belief(double log_odds, double before);

}  // namespace samelight::pair
