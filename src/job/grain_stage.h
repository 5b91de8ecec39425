// The grain of a session's film, from its scans.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "image/raster.h"
#include "job/job.h"
#include "record/correction.h"
#include "record/grain.h"
#include "render/grain_meter.h"
#include "render/render.h"
#include "session/session.h"

namespace samelight::job {

// The scans that grain is measured on: of colour rolls, not barred, evenly from each roll, which has its
// share of kGrainScans but at least kGrainScansOfRoll. Always the same for the same session.
inline constexpr std::size_t kGrainScans = 12, kGrainScansOfRoll = 4;
// `grey`: of black-and-white rolls instead.
Result<std::vector<record::Photo>> GrainScans(const session::Session& session, bool grey = false);

// Reads `scans` at full size and measures, several at a time; `also` sees each of them, on the thread that
// read it; `each` gets what was found on each scan alone. A scan that cannot be read is passed over. The same
// for any number of threads. kNothingToDo when there is too little flat film to measure, kCancelled.
Result<record::GrainModel> MeasureGrain(
    const session::Session& session, const std::vector<record::Photo>& scans, std::uint64_t memory_mib,
    const Work& work, const std::function<void(const record::Photo&, const image::RgbF&)>& also = nullptr,
    std::vector<render::GrainMeter>* each = nullptr);

// A person's grain and acutance on top of what `options` holds, kept within what rendering takes.
void PutTouch(const record::Handles& touch, render::RenderOptions& options);

// The seed of a frame's grain, from the content hash of its file.
std::uint64_t GrainSeed(const record::Photo& frame);

}  // namespace samelight::job
