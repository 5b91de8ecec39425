// The digital side of a session before any film is looked at: one clock, one order, lights, and what hangs
// together.
#pragma once

#include <vector>

#include "pair/frame_graph.h"
#include "pair/pairing.h"
#include "pair/timeline.h"

namespace samelight::pair {

// Frames are meant by their index in the request, places by their rank in `timeline.order`.
struct Digital {
  std::vector<FrameLink> links;
  std::vector<BodyClock> clocks;
  Timeline timeline;
  std::vector<int> place;           // per frame
  std::vector<int> light;           // per place, numbered in time order
  std::vector<bool> flash_guessed;  // per place: taken for flash although its file does not say
  int LightOf(int frame) const { return light[place[frame]]; }
};

// kCancelled when asked to stop. `views`: of the request's frames. A request without frames gives an empty
// result.
Result<Digital> ReadDigital(const Request& request, const std::vector<View>& views, Kept& kept,
                            Progress& progress, const Cancel& cancel);

// The lights with their frames in time order and the middle of their whites; without scans.
std::vector<record::Light> LightRecords(const Request& request, const Digital& digital);

// Links inside lights that are worth their cells, few per frame: those between sources first, then the
// strongest; in time order.
std::vector<const FrameLink*> LinksForCells(const Request& request, const Digital& digital);

// A stopped job's error.
Error Stopped();

}  // namespace samelight::pair
