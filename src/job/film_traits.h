// What a delivery takes from the film beside its colours: grain, acutance, the tone of black-and-white rolls.
#pragma once

#include <map>
#include <string>
#include <unordered_map>
#include <vector>

#include "job/job.h"
#include "job/parcels.h"
#include "record/grain.h"
#include "render/acutance.h"

namespace samelight::job {

// A frame of one source (record::SourceName) and a scan of the same moment: their edges are compared.
struct SharpnessPair {
  const record::FrameSolution* frame = nullptr;
  PhotoId scan;
};
struct SourcePairs {
  std::vector<SharpnessPair> pairs;  // at most 6
  int long_side_px = 0;              // at which they are compared: the least of all pictures concerned
};

// From what the traits are measured; always the same for the same session and order.
struct TraitPlan {
  std::vector<record::Photo> scans;  // GrainScans()
  std::map<std::string, SourcePairs> sources;
  record::GrainModel look_grain;  // without scans: of the look that the session has taken up; patches 0: none
  std::vector<float> tone;        // render/render.h: Monochrome; empty: colour
  std::string traits;             // digest of scans and sources
  std::string digest;             // of all that the order makes use of
  std::vector<std::string> notes;  // what was wished and cannot be
};
Result<TraitPlan> PlanTraits(const session::Session& session, const Goods& goods, const record::Order& order);

struct FilmTraits {
  record::GrainModel grain;  // of all rolls together; patches 0: none
  std::string no_grain;      // why not
  std::map<RollId, record::GrainModel>
      roll_grain;  // of rolls that show enough of it, where there are several
  std::map<std::string, render::Acutance> acutance;   // by source; none: left as they are
  std::unordered_map<PhotoId, RollId> roll_of_frame;  // RollsOfFrames()
  // The grain that a frame gets: that of the roll its light was taken on.
  const record::GrainModel& GrainOf(PhotoId frame) const;
};
// Reads the plan's scans and frames at full size, unless the session's cache holds what an earlier call
// measured on the same ones. kCancelled.
Result<FilmTraits> MeasureTraits(const session::Session& session, const Goods& goods, const TraitPlan& plan,
                                 std::uint64_t memory_mib, const Work& work);

}  // namespace samelight::job
