#include "job/grain_stage.h"

#include <algorithm>
#include <charconv>
#include <set>
#include <unordered_map>

#include "codec/read.h"
#include "job/memory_gate.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "render/grain_meter.h"

namespace samelight::job {
namespace {

// Scans do not tell the size of the film. Any value does: the model is used at the same one, so that grain
// keeps its size against the picture; only its figures per millimetre would change.
constexpr double kFilmLongSideMm = 56;

}  // namespace

Result<std::vector<record::Photo>> GrainScans(const session::Session& session, bool grey) {
  Result<std::vector<record::Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
  if (!measured.ok()) return measured.error();
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  const Result<session::Standing> folded = StandingOf(session);
  if (!folded.ok()) return folded.error();
  const session::Standing& standing = *folded;
  std::unordered_map<PhotoId, record::Measured> facts;
  for (auto& [id, entry] : *measured) facts[id] = std::move(entry.measured);
  std::set<RollId> grey_rolls;
  for (const record::Roll& roll : StandingRolls(std::move(rolls).value(), standing, facts, *photos))
    if (roll.black_and_white) grey_rolls.insert(roll.id);
  std::vector<record::Photo> all, some;
  for (record::Photo& photo : *photos)
    if (photo.role == record::Role::kScan && !photo.hash.empty() && grey_rolls.contains(photo.roll) == grey &&
        !standing.barred.contains(photo.id))
      all.push_back(std::move(photo));
  const std::size_t count = std::min(kGrainScans, all.size());
  for (std::size_t i = 0; i < count; ++i) some.push_back(all[i * all.size() / count]);
  return some;
}

Result<record::GrainModel> MeasureGrain(
    const session::Session& session, const std::vector<record::Photo>& scans, std::uint64_t memory_mib,
    const Work& work, const std::function<void(const record::Photo&, const image::RgbF&)>& also) {
  MemoryGate gate(BudgetBytes(memory_mib));
  render::GrainMeter meter;
  work.progress.Begin("measuring grain", static_cast<long>(scans.size()));
  for (const record::Photo& scan :
       scans) {  // one after the other: the model must not depend on who is faster
    codec::ReadOptions read;
    read.correct_lens = false;
    read.cancel = work.cancel;
    // Rendered and searched for edges as well, by who asks for it.
    const auto also_bytes =
        19 * static_cast<std::uint64_t>(scan.width_px) * static_cast<std::uint64_t>(scan.height_px);
    const MemoryGate::Admission admitted = gate.Admit(WorkingBytes(scan, read) + also_bytes, work.cancel);
    if (!admitted) break;
    Result<codec::Picture> picture = codec::ReadPicture(session.Absolute(scan.path), read);
    if (picture.ok() && picture->photo.hash == scan.hash) {
      meter.Add(picture->pixels, kFilmLongSideMm, work.cancel);
      if (also && !work.cancel.requested()) also(scan, picture->pixels);
    }
    work.progress.Advance(1);
  }
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  return meter.Model();
}

void PutTouch(const record::Handles& touch, render::RenderOptions& options) {
  options.grain.amount = std::clamp(options.grain.amount * (1 + touch.grain_amount), 0.0, 10.0);
  options.grain.size = std::clamp(options.grain.size * (1 + touch.grain_size), 0.25, 4.0);
  options.acutance.gain = std::clamp(options.acutance.gain + touch.acutance, -0.9, 2.0);
}

std::uint64_t GrainSeed(const record::Photo& frame) {
  std::uint64_t seed = 0;
  const std::size_t digits = std::min<std::size_t>(16, frame.hash.size());
  std::from_chars(frame.hash.data(), frame.hash.data() + digits, seed, 16);
  return seed;
}

}  // namespace samelight::job
