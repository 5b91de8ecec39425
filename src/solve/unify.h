// Brings all frames to one digital reference before film is looked at: one white per light, equal exposure,
// every source (other bodies, camera JPEG) to the reference source.
#pragma once

#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "record/correction.h"
#include "solve/solve.h"

namespace samelight::solve {

// What one frame shows after unification; log10 of linear BT.2020 values.
struct Content {
  double level_log10 = 0;    // of the three layers as film sees them, log10 counted down to the toe
  Vec3 grey_log10{0, 0, 0};  // mean colour; mean of the three is 0
};

// How a light changes from its middle to its end by what the cameras say; log10, at least 0; 0 where it is
// not sure.
struct LightDrift {
  double level = 0, colour = 0;
};

// What is known of one light after unification; log10 of linear BT.2020 values.
struct LightState {
  int frames = 0;            // measured
  double level_log10 = 0;    // mean of the layers of its frames, unified, log10 counted down to the toe
  Vec3 grey_log10{0, 0, 0};  // mean colour of its frames, the same way; mean of the three is 0
  // How bright the place is, log10 of N^2 / (t S) by the frames' exposure data; empty where none is written.
  std::optional<double> brightness_log10;
  Vec3 cast_log10{0, 0, 0};  // colour of the light against daylight by the as-shot whites; mean 0, and 0
                             // without any raw frame
  LightDrift drift;
  std::optional<Vec3>
      skin;  // scene-linear, unified: mean (of logarithms) of its frames' skin, where any shows it
};

// How far a frame may be off its light by itself, one standard deviation, log10.
struct OwnDoubt {
  double level = 0;   // of its exposure against the mean of its light's frames
  double colour = 0;  // of red and of blue against green
};

struct Unification {
  std::unordered_map<PhotoId, record::Unify> frames;
  std::unordered_map<LightId, LightState> lights;
  std::unordered_map<PhotoId, Content> content;  // of the frames that were measured
  std::unordered_map<PhotoId, LightId> light_of;
  std::unordered_map<PhotoId, double> place;  // of a frame in its light in time: -1 first, 1 last
  // Camera JPEGs that no chain of matches ties to a raw frame of their light: which of the groups that hang
  // together.
  std::unordered_map<PhotoId, int> loose;
  std::unordered_map<PhotoId, OwnDoubt> doubt;
  std::string reference;  // the source that the others were brought to
  std::vector<std::string> notes;
};

// Fits exposures by one robust linear solve over the session (medians of log ratios of matched cells, EXIF
// exposure as a prior), then source relations (inverse tone curve, 3x3, gains) on cells matched across
// sources.
Unification UnifyFrames(const Request& request);

}  // namespace samelight::solve
