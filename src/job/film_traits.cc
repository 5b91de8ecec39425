#include "job/film_traits.h"

#include <algorithm>

#include "codec/read.h"
#include "job/black_and_white.h"
#include "job/digest.h"
#include "job/grain_stage.h"
#include "job/memory_gate.h"
#include "job/stages.h"
#include "render/acutance_meter.h"
#include "render/render.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

constexpr std::size_t kAcutanceFrames = 4;

// Frames of which there is a scan, then others, evenly from all.
std::vector<const record::FrameSolution*> AcutanceFrames(const Goods& goods) {
  std::vector<const record::FrameSolution*> paired, all, some;
  for (const record::FrameSolution& solution : goods.match.frames) {
    all.push_back(&solution);
    if (solution.scan.valid()) paired.push_back(&solution);
  }
  const auto& from = paired.empty() ? all : paired;
  const std::size_t count = std::min(kAcutanceFrames, from.size());
  for (std::size_t i = 0; i < count; ++i) some.push_back(from[i * from.size() / count]);
  return some;
}

const record::Photo* PhotoOf(const Goods& goods, PhotoId id) {
  for (const record::Photo& photo : goods.photos)
    if (photo.id == id) return &photo;
  return nullptr;
}

}  // namespace

Result<TraitPlan> PlanTraits(const session::Session& session, const Goods& goods,
                             const record::Order& order) {
  TraitPlan plan;
  const bool grey = order.tones == record::Tones::kBlackAndWhite;
  Digest digest;
  if (order.grain || order.acutance) {
    Result<std::vector<record::Photo>> scans = GrainScans(session, grey);
    if (!scans.ok()) return scans.error();
    plan.scans = std::move(scans).value();
    for (const record::Photo& scan : plan.scans) digest.Add(scan.hash);
  }
  if (order.acutance && !plan.scans.empty()) {
    plan.frames = AcutanceFrames(goods);
    for (const record::FrameSolution* frame : plan.frames) {
      const record::Photo* photo = PhotoOf(goods, frame->frame);
      record::FrameSolution applied;
      applied.correction = frame->correction;
      const session::Bytes bytes = session::Pack(applied);
      digest.Add(photo != nullptr ? photo->hash : "")
          .Add(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
    }
  }
  if (grey) {
    plan.tone = BlackAndWhiteTone(session, goods);
    if (plan.tone.empty()) {
      plan.notes.emplace_back(
          "the session has no black-and-white roll to take the tone from: the frames are plain "
          "black-and-white");
      plan.tone = {0, 1};
    }
    for (const float v : plan.tone) digest.Add(static_cast<double>(v));
  }
  plan.digest = digest.Hex();
  return plan;
}

Result<FilmTraits> MeasureTraits(const session::Session& session, const Goods& goods,
                                 const record::Order& order, const TraitPlan& plan, std::uint64_t memory_mib,
                                 const Work& work) {
  FilmTraits traits;
  if (plan.scans.empty()) return traits;
  render::AcutanceMeter film, digital;
  int scan_side_px = 0;
  Result<record::GrainModel> grain =
      MeasureGrain(session, plan.scans, memory_mib, work, [&](const image::RgbF& scan) {
        if (!order.acutance) return;
        scan_side_px = std::max({scan_side_px, scan.width(), scan.height()});
        render::RenderOptions plain;
        plain.dither = false;
        image::RgbU8 encoded;
        if (render::RenderAsItIs(scan, plain, encoded).ok()) film.Add(encoded);
      });
  if (grain.ok())
    traits.grain = std::move(grain).value();
  else if (grain.error().code == ErrorCode::kCancelled)
    return grain.error();
  else if (order.grain)
    traits.notes.push_back("the frames are delivered without grain: " + grain.error().what);
  if (!order.grain) traits.grain = {};
  if (plan.frames.empty() || scan_side_px == 0) return traits;
  MemoryGate gate(BudgetBytes(memory_mib));
  work.progress.Begin("measuring acutance", static_cast<long>(plan.frames.size()));
  for (const record::FrameSolution* frame : plan.frames) {
    const record::Photo* photo = PhotoOf(goods, frame->frame);
    if (photo == nullptr) continue;
    const MemoryGate::Admission admitted = gate.Admit(WorkingBytes(*photo, true), work.cancel);
    if (!admitted) break;
    codec::ReadOptions read;
    read.cancel = work.cancel;
    Result<codec::Picture> picture = codec::ReadPicture(session.Absolute(photo->path), read);
    if (picture.ok() && picture->photo.hash == photo->hash) {
      render::RenderOptions plain;
      plain.dither = false;
      plain.long_side_px = scan_side_px;
      plain.cancel = work.cancel;
      image::RgbU8 encoded;
      if (render::Render(picture->pixels, frame->correction, plain, encoded).ok()) digital.Add(encoded);
    }
    work.progress.Advance(1);
  }
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  traits.acutance = render::AcutanceGain(film, digital);
  return traits;
}

}  // namespace samelight::job
