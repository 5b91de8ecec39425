// Which scans and frames saw the same light.
#pragma once

#include <functional>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "base/result.h"
#include "measure/cache.h"
#include "pair/kept.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::pair {

// What pairing knows of one photograph. `cached` may hold facts only; pixels are fetched by `load` when
// needed.
struct Item {
  const record::Photo* photo = nullptr;
  const measure::Cached* facts = nullptr;
};

// A person's word: outranks everything.
struct PersonsWord {
  std::vector<std::pair<PhotoId, PhotoId>> joined;  // scan, frame
  std::vector<std::pair<PhotoId, PhotoId>> refused;
  std::vector<std::vector<PhotoId>> lights;               // frames that belong together
  std::vector<PhotoId> light_starts;                      // frames at which a new light begins
  std::unordered_map<std::string, double> body_offset_s;  // added to a body's clock
};

struct Request {
  std::vector<Item> scans;  // with photo->roll and photo->roll_position set
  std::vector<Item> frames;
  std::vector<record::Roll> rolls;
  PersonsWord word;
  Kept* kept = nullptr;  // of earlier pairings; may be null. What this one makes goes there too
  // Reads the whole cached entry (pixels too) of a photograph. Called from several threads.
  std::function<Result<measure::Cached>(PhotoId)> load;
};

struct BodyClock {
  std::string body;
  double offset_s = 0;  // added to this body's times to meet the first body's clock
  double confidence = 0;
};

struct Pairing {
  std::vector<record::Light> lights;  // in time order, every frame in exactly one
  std::vector<record::Pair> pairs;    // one per scan, in request order
  std::vector<BodyClock> clocks;
  // Same-moment matches of scans to frames: the pair's own and further frames of the same light that show the
  // same things.
  std::vector<record::Correspondence> scan_to_frame;
  // Matches of frames to frames inside one light, for the digital graph.
  std::vector<record::Correspondence> frame_to_frame;
  std::vector<record::Note> notes;  // seen on the way
};

Result<Pairing> PairSession(const Request& request, Progress& progress, const Cancel& cancel);

}  // namespace samelight::pair
