// What a delivery takes from the film beside its colours: grain, acutance, the tone of black-and-white rolls.
#pragma once

#include <string>
#include <vector>

#include "job/job.h"
#include "job/parcels.h"
#include "record/grain.h"

namespace samelight::job {

// From what the traits are measured; always the same for the same session and order.
struct TraitPlan {
  std::vector<record::Photo> scans;  // GrainScans()
  std::vector<const record::FrameSolution*>
      frames;                      // their acutance is measured: at most 4, paired ones first
  std::vector<float> tone;         // render/render.h: Monochrome; empty: colour
  std::string digest;              // of all of it
  std::vector<std::string> notes;  // what was wished and cannot be
};
Result<TraitPlan> PlanTraits(const session::Session& session, const Goods& goods, const record::Order& order);

struct FilmTraits {
  record::GrainModel grain;  // patches 0: none
  double acutance = 0;       // RenderOptions::acutance
  std::vector<std::string> notes;
};
// Reads the plan's scans and frames at full size. What cannot be measured is noted and left out. kCancelled.
Result<FilmTraits> MeasureTraits(const session::Session& session, const Goods& goods,
                                 const record::Order& order, const TraitPlan& plan, std::uint64_t memory_mib,
                                 const Work& work);

}  // namespace samelight::job
