#include "job/grain_stage.h"

#include <algorithm>
#include <charconv>
#include <unordered_map>

#include "base/task_pool.h"
#include "codec/read.h"
#include "job/memory_gate.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"

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
  std::unordered_map<PhotoId, const record::Photo*> usable;
  for (const record::Photo& photo : *photos)
    if (!photo.hash.empty() && !standing.barred.contains(photo.id)) usable[photo.id] = &photo;
  std::vector<std::vector<const record::Photo*>> of_rolls;
  for (const record::Roll& roll : StandingRolls(std::move(rolls).value(), standing, facts, *photos)) {
    if (roll.black_and_white != grey) continue;
    std::vector<const record::Photo*> scans;
    for (const PhotoId scan : roll.scans)
      if (const auto it = usable.find(scan); it != usable.end()) scans.push_back(it->second);
    if (!scans.empty()) of_rolls.push_back(std::move(scans));
  }
  std::vector<record::Photo> some;
  for (const auto& scans : of_rolls) {
    const std::size_t count =
        std::min(scans.size(), std::max(kGrainScansOfRoll, kGrainScans / of_rolls.size()));
    for (std::size_t i = 0; i < count; ++i) some.push_back(*scans[i * scans.size() / count]);
  }
  return some;
}

Result<record::GrainModel> MeasureGrain(
    const session::Session& session, const std::vector<record::Photo>& scans, std::uint64_t memory_mib,
    const Work& work, const std::function<void(const record::Photo&, const image::RgbF&)>& also,
    std::vector<render::GrainMeter>* each) {
  MemoryGate gate(BudgetBytes(memory_mib));
  std::vector<render::GrainMeter> found(scans.size());
  work.progress.Begin("measuring grain", static_cast<long>(scans.size()));
  ParallelFor(scans.size(), work.cancel, [&](std::size_t i) {
    const record::Photo& scan = scans[i];
    codec::ReadOptions read;
    read.correct_lens = false;
    read.cancel = work.cancel;
    // Rendered and searched for edges as well, by who asks for it.
    const auto also_bytes =
        19 * static_cast<std::uint64_t>(scan.width_px) * static_cast<std::uint64_t>(scan.height_px);
    const MemoryGate::Admission admitted = gate.Admit(WorkingBytes(scan, read) + also_bytes, work.cancel);
    if (!admitted) return;
    Result<codec::Picture> picture = codec::ReadPicture(session.Absolute(scan.path), read);
    if (picture.ok() && picture->photo.hash == scan.hash) {
      found[i].Add(picture->pixels, kFilmLongSideMm, work.cancel);
      if (also && !work.cancel.requested()) also(scan, picture->pixels);
    }
    work.progress.Advance(1);
  });
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  render::GrainMeter meter;
  for (const render::GrainMeter& one : found) meter.Add(one);  // in order: who was faster must not matter
  if (each != nullptr) *each = std::move(found);
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
