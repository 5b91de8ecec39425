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
#include "pair/stock_colour.h"

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

// Rolls that render colour unlike the first: perhaps another stock. Rolls of which both stocks are known need
// no word.
void NoteStocks(const Request& request, const std::vector<record::Correspondence>& matches,
                std::vector<record::Note>& notes) {
  std::map<PhotoId, const record::Photo*> photo;
  for (const std::vector<Item>* items : {&request.scans, &request.frames})
    for (const Item& i : *items) photo[i.photo->id] = i.photo;
  struct Told {
    const record::Roll* roll;
    RollColour colour;
    PhotoId first;
  };
  std::vector<Told> rolls;
  for (const record::Roll& roll : request.rolls) {
    std::vector<const record::Correspondence*> own;
    const record::Photo* first = nullptr;
    for (const record::Correspondence& c : matches)
      if (photo[c.a]->roll == roll.id && photo[c.b]->encoding == record::Encoding::kRaw) {
        own.push_back(&c);
        if (first == nullptr || photo[c.a]->roll_position < first->roll_position) first = photo[c.a];
      }
    if (!roll.black_and_white && first != nullptr) rolls.push_back({&roll, ColourOf(own), first->id});
  }
  for (std::size_t k = 1; k < rolls.size(); ++k) {
    std::vector<std::string> unlike;
    for (std::size_t j = 0; j < k; ++j)
      if ((rolls[j].roll->stock.empty() || rolls[k].roll->stock.empty()) &&
          RenderUnlike(rolls[j].colour, rolls[k].colour))
        unlike.push_back(rolls[j].roll->name);
    if (!unlike.empty())
      notes.push_back(
          {rolls[k].first,
           fmt::format("{} renders colour unlike {}: perhaps another stock or development; then say "
                       "--roll '{}' stock=NAME",
                       rolls[k].roll->name, fmt::join(unlike, ", "), rolls[k].roll->name)});
  }
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
  for (std::size_t i = 0; i < scans.size(); ++i)
    if (film->doubtful[i])
      out.notes.push_back({request.scans[i].photo->id, WhichLight(request, out.pairs[i])});
  std::set<PhotoId> leaked;
  for (std::size_t k = 0; k < of_scans; ++k)
    if (DropLeakedCells(done[k].cells) > 0 && leaked.insert(done[k].a).second)
      out.notes.push_back({done[k].a, "a light leak along its edge: that part is left out"});
  for (std::size_t k = 0; k < done.size(); ++k)
    if (!done[k].cells.empty())
      (k < of_scans ? out.scan_to_frame : out.frame_to_frame).push_back(std::move(done[k]));
  NoteStocks(request, out.scan_to_frame, out.notes);
  return out;
}

}  // namespace samelight::pair
