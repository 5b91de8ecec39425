// What skin looks like in one picture, learned from one face.
#pragma once

#include <vector>

namespace samelight::measure {

// A pixel: log2 R/G, log2 B/G, log2 luminance.
struct ToneChroma {
  float r = 0, b = 0, tone = 0;
};

// Chromaticity as a straight line over tone (a film curve, or fill light of another colour, makes it run),
// with its spread; and the range of tones.
class SkinColour {
 public:
  // Learns from pixels most of which are skin: eyes, lips, glasses, beard fall out. False when they have no
  // common colour; the model is then unusable.
  bool Learn(std::vector<ToneChroma> pixels);
  // Squared Mahalanobis distance of the chromaticity from that of skin at this tone. Two degrees of freedom:
  // 99 % of skin lies below 9.2.
  double Distance(const ToneChroma& pixel) const;
  // The same, rising beyond the tones of the face: hair is often skin-coloured but darker.
  double DistanceWithTone(const ToneChroma& pixel) const;
  double tone() const { return tone_; }

 private:
  double r_ = 0, b_ = 0, slope_r_ = 0, slope_b_ = 0;  // at tone_, and per stop
  double rr_ = 1, rb_ = 0, bb_ = 1;                   // inverse covariance
  double tone_ = 0, tone_spread_ = 1;
};

}  // namespace samelight::measure
