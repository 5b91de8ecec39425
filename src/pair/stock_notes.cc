#include "pair/stock_notes.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <map>

#include "pair/stock_colour.h"

namespace samelight::pair {
namespace {

constexpr double kSaid = 0.9;    // confidence from which a note is worth reading
constexpr double kUnlike = 0.3;  // part of the pairs of rolls that are on different stocks (a guess)

struct FilmedRoll {
  const record::Roll* roll = nullptr;
  std::vector<const record::Photo*> scans;  // in roll order, only those with matches
  std::vector<FilmedPlaces> places;         // ranks among `scans`
};

std::vector<FilmedRoll> Rolls(const Request& request, const Pairing& found) {
  std::map<PhotoId, const record::Photo*> photo;
  for (const std::vector<Item>* items : {&request.scans, &request.frames})
    for (const Item& i : *items) photo[i.photo->id] = i.photo;
  std::map<PhotoId, std::size_t> light_of;
  for (std::size_t l = 0; l < found.lights.size(); ++l)
    for (PhotoId frame : found.lights[l].frames) light_of[frame] = l;
  std::map<std::string, int> bodies;
  std::vector<FilmedRoll> out;
  for (const record::Roll& roll : request.rolls) {
    if (roll.black_and_white) continue;
    FilmedRoll own{&roll, {}, {}};
    for (const record::Correspondence& c : found.scan_to_frame)
      if (photo[c.a]->roll == roll.id && photo[c.b]->encoding == record::Encoding::kRaw &&
          std::count(own.scans.begin(), own.scans.end(), photo[c.a]) == 0)
        own.scans.push_back(photo[c.a]);
    std::sort(own.scans.begin(), own.scans.end(), [](const record::Photo* a, const record::Photo* b) {
      return a->roll_position < b->roll_position;
    });
    for (const record::Correspondence& c : found.scan_to_frame) {
      const auto rank = std::find(own.scans.begin(), own.scans.end(), photo[c.a]) - own.scans.begin();
      if (rank == static_cast<long>(own.scans.size()) || photo[c.b]->encoding != record::Encoding::kRaw)
        continue;
      const std::size_t light = light_of[c.b];
      const int body = bodies.emplace(BodyName(*photo[c.b]), static_cast<int>(bodies.size())).first->second;
      own.places.push_back(
          {&c, static_cast<int>(rank), body, static_cast<int>(light), found.lights[light].mired});
    }
    if (!own.scans.empty()) out.push_back(std::move(own));
  }
  return out;
}

double Unlike(const FilmedRoll& a, const FilmedRoll& b) {
  std::vector<FilmedPlaces> places = a.places;
  for (FilmedPlaces p : b.places) {
    p.scan += static_cast<int>(a.scans.size());
    places.push_back(p);
  }
  std::vector<bool> second(a.scans.size(), false);
  second.resize(a.scans.size() + b.scans.size(), true);
  const double log_odds = StockColours(places).TwoStocks(second);
  return log_odds == 0 ? 0 : Belief(log_odds, kUnlike);
}

// Another stock inside the scans [first, last) of a roll, and inside both parts of what was found.
void NoteChanges(const FilmedRoll& roll, int first, int last, std::vector<record::Note>& notes) {
  std::vector<FilmedPlaces> places;
  for (FilmedPlaces p : roll.places)
    if (p.scan >= first && p.scan < last) {
      p.scan -= first;
      places.push_back(p);
    }
  const std::optional<StockChange> change = StockColours(places).Change(last - first, kSaid);
  if (!change) return;
  const int at = first + change->at;
  NoteChanges(roll, first, at, notes);
  const record::Photo& scan = *roll.scans[static_cast<std::size_t>(at)];
  notes.push_back(
      {scan.id,
       fmt::format("from about here on colours are rendered otherwise: perhaps another stock; then say "
                   "--roll '{}' split={}",
                   roll.roll->name, std::filesystem::path(scan.path).filename().string())});
  NoteChanges(roll, at, last, notes);
}

}  // namespace

void NoteStocks(const Request& request, const Pairing& found, std::vector<record::Note>& notes) {
  const std::vector<FilmedRoll> rolls = Rolls(request, found);
  for (std::size_t k = 0; k < rolls.size(); ++k) {
    const record::Roll& roll = *rolls[k].roll;
    std::vector<std::string> unlike;
    for (std::size_t j = 0; j < k; ++j) {
      if (!rolls[j].roll->stock.empty() && !roll.stock.empty()) continue;
      if (Unlike(rolls[j], rolls[k]) >= kSaid) unlike.push_back(rolls[j].roll->name);
    }
    if (!unlike.empty())
      notes.push_back(
          {rolls[k].scans.front()->id,
           fmt::format(
               "{} renders colour unlike {}: perhaps another stock or development; then say --roll '{}' "
               "stock=NAME",
               roll.name, fmt::join(unlike, ", "), roll.name)});
    if (roll.stock.empty()) NoteChanges(rolls[k], 0, static_cast<int>(rolls[k].scans.size()), notes);
  }
}

}  // namespace samelight::pair
