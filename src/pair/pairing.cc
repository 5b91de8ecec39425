#include "pair/pairing.h"

#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <set>

#include "image/alone.h"
#include "pair/correspond.h"
#include "pair/digital.h"
#include "pair/film.h"
#include "pair/odd_scans.h"
#include "pair/seen.h"
#include "pair/stock_notes.h"

namespace samelight::pair {
namespace {

constexpr int kOwnCells = 1500, kFurtherCells = 600, kFrameCells = 260;

std::vector<View> Views(const std::vector<Item>& items) {
  std::vector<View> out;
  for (const Item& i : items)
    out.emplace_back(i.facts->features, i.photo->width_px, i.photo->height_px, i.photo->hash);
  return out;
}

// Words for a scan of a place that was seen in several lights.
std::string WhichLight(const Request& request, const record::Pair& pair) {
  std::map<PhotoId, std::string> name;
  for (const Item& f : request.frames)
    name[f.photo->id] = std::filesystem::path(f.photo->path).filename().string();
  std::vector<std::string> may_be;
  for (const record::PairCandidate& c : pair.alternatives)
    if (c.confidence >= 0.05)  // as a percentage worth a look
      may_be.push_back(fmt::format("{} ({:.0f} %)", name[c.frame], 100 * c.confidence));
  return fmt::format(
      "its place was seen in several lights and none is sure enough: perhaps that of {}; join it by hand",
      fmt::join(may_be, " or "));
}

// Lights that hold together since they seem to be flash, told at their first frame.
void NoteFlash(const Request& request, const Digital& digital, std::vector<record::Note>& notes) {
  std::map<int, std::pair<int, int>> guessed;  // light: first place, count
  for (int p = 0; p < static_cast<int>(digital.light.size()); ++p)
    if (digital.flash_guessed[p]) ++guessed.emplace(digital.light[p], std::pair(p, 0)).first->second.second;
  for (const auto& [light, told] : guessed)
    notes.push_back(
        {request.frames[digital.timeline.order[told.first]].photo->id,
         fmt::format("taken with flash, as it seems, though the file does not say: a light of its "
                     "own ({} frames so); if not, say --light LIGHT join=OTHER LIGHT",
                     told.second)});
}

}  // namespace

Result<Pairing> PairSession(const Request& request, Progress& progress, const Cancel& cancel) {
  image::WorkAlone();
  Pairing out;
  Kept nothing(false);
  Kept& kept = request.kept != nullptr ? *request.kept : nothing;
  const std::vector<View> scans = Views(request.scans), frames = Views(request.frames);
  if (frames.empty()) {
    for (const Item& s : request.scans)
      out.pairs.push_back({s.photo->id, PhotoId{}, record::PairKind::kNone, 1, false, {}});
    out.notes = SeenOnTheWay(request, {});
    return out;
  }
  const Result<Digital> digital = ReadDigital(request, frames, kept, progress, cancel);
  if (!digital) return digital.error();
  out.lights = LightRecords(request, *digital);
  out.clocks = digital->clocks;
  out.notes = SeenOnTheWay(request, *digital);
  NoteFlash(request, *digital, out.notes);
  Result<Film> film = PairFilm(request, scans, frames, *digital, kept, progress, cancel);
  if (!film) return film.error();
  out.pairs = std::move(film->pairs);
  for (const std::vector<int>& roll : film->rolls)
    for (int i : roll)
      if (film->frame[i] >= 0)
        out.lights[digital->LightOf(film->frame[i])].scans.push_back(out.pairs[i].scan);

  std::vector<CellJob> jobs;
  for (std::size_t i = 0; i < scans.size(); ++i)
    for (const Shown& s : film->shown[i])
      jobs.push_back(Job(request.scans[i], scans[i], request.frames[s.frame], frames[s.frame], s.verified,
                         s.frame == film->frame[i] ? kOwnCells : kFurtherCells));
  const std::size_t of_scans = jobs.size();
  for (const FrameLink* l : LinksForCells(request, *digital))
    jobs.push_back(Job(request.frames[l->a], frames[l->a], request.frames[l->b], frames[l->b], l->verified,
                       kFrameCells));
  std::vector<record::Correspondence> done =
      Correspond("matching places", jobs, request.load, kept, progress, cancel);
  if (cancel.requested()) return Stopped();
  for (std::size_t i = 0; i < scans.size(); ++i)
    if (film->doubled[i])
      out.notes.push_back({request.scans[i].photo->id,
                           "two exposures on one piece of film: set aside; join it by hand to use it"});
  for (std::size_t i = 0; i < scans.size(); ++i) {
    if (film->doubtful[i])
      out.notes.push_back({request.scans[i].photo->id, WhichLight(request, out.pairs[i])});
    if (film->by_order[i])
      out.notes.push_back({request.scans[i].photo->id,
                           "the pictures alone leave its light in doubt; the order of its roll tells it: "
                           "right if the files of the roll are in order"});
  }
  std::set<PhotoId> leaked;
  for (std::size_t k = 0; k < of_scans; ++k)
    if (DropLeakedCells(done[k].cells) > 0 && leaked.insert(done[k].a).second)
      out.notes.push_back({done[k].a, "a light leak along its edge: that part is left out"});
  for (std::size_t k = 0; k < done.size(); ++k)
    if (!done[k].cells.empty())
      (k < of_scans ? out.scan_to_frame : out.frame_to_frame).push_back(std::move(done[k]));
  NoteStocks(request, out, out.notes);
  return out;
}

}  // namespace samelight::pair
