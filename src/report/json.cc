// The schema is documented in docs/report.md; a change here is a change there.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/file.h"
#include "record/handle.h"
#include "report/index.h"

namespace samelight::report {
namespace {

using Json = nlohmann::ordered_json;

// Raised when a key changes its meaning or goes away; new keys do not raise it.
constexpr int kSchema = 2;

// Rounded to 1e-5: what differs less is noise to a reader, and the text stays short. Not finite: null.
Json Number(double value) {
  if (!std::isfinite(value)) return nullptr;
  return std::round(value * 1e5) / 1e5;
}

Json OrNull(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

Json Triple(const Vec3& v) { return Json::array({Number(v[0]), Number(v[1]), Number(v[2])}); }

Json Names(const Index& index, const std::vector<PhotoId>& ids) {
  Json names = Json::array();
  for (const PhotoId id : ids)
    if (index.Photo(id) != nullptr) names.push_back(index.NameOf(id));
  return names;
}

Json LightName(const Index& index, PhotoId id) {
  const record::Light* light = index.LightOf(id);
  return light == nullptr ? Json(nullptr) : Json(light->name);
}

Json HandlesJson(const record::Handles& h) {
  return {{"exposure", Number(h.exposure_ev)},
          {"warmth", Number(h.warmth_mired)},
          {"green_magenta", Number(h.green_magenta)},
          {"gamma", Number(h.gamma)},
          {"toe", Number(h.toe)},
          {"shoulder", Number(h.shoulder)},
          {"black_density", Number(h.black_density)},
          {"chroma", Number(h.chroma)}};
}

Json PairsJson(const Report& report, const Index& index) {
  Json all = Json::array();
  for (const record::Pair& pair : report.pairs) {
    if (pair.kind == record::PairKind::kNone || index.Photo(pair.scan) == nullptr ||
        index.Photo(pair.frame) == nullptr)
      continue;
    Json alternatives = Json::array();
    for (const record::PairCandidate& c : pair.alternatives)
      if (index.Photo(c.frame) != nullptr)
        alternatives.push_back(
            {{"frame", index.NameOf(c.frame)}, {"kind", Name(c.kind)}, {"confidence", Number(c.confidence)}});
    all.push_back({{"scan", index.NameOf(pair.scan)},
                   {"frame", index.NameOf(pair.frame)},
                   {"kind", Name(pair.kind)},
                   {"confidence", Number(pair.confidence)},
                   {"by_person", pair.by_person},
                   {"alternatives", std::move(alternatives)}});
  }
  return all;
}

Json SeenJson(const Report& report, PhotoId id) {
  Json texts = Json::array();
  for (const record::Note& note : report.seen)
    if (note.photo == id) texts.push_back(note.text);
  return texts;
}

Json ScanJson(const Report& report, const Index& index, const record::Photo& scan) {
  const record::Pair* pair = index.PairOfScan(scan.id);
  const record::Roll* roll = index.RollOf(scan);
  const auto nudge = report.scan_nudges.find(scan.id);
  return {{"scan", index.NameOf(scan.id)},
          {"path", scan.path},
          {"roll", roll == nullptr ? Json(nullptr) : Json(roll->name)},
          {"position", scan.roll_position < 0 ? Json(nullptr) : Json(scan.roll_position)},
          {"light", LightName(index, scan.id)},
          {"kind", Name(pair == nullptr ? record::PairKind::kNone : pair->kind)},
          {"frame", pair == nullptr ? Json(nullptr) : OrNull(index.NameOf(pair->frame))},
          {"confidence", pair == nullptr ? Json(nullptr) : Number(pair->confidence)},
          {"undecided", pair != nullptr && record::IsUndecided(*pair)},
          {"barred", index.Barred(scan.id)},
          {"nudge", nudge == report.scan_nudges.end() ? Json(nullptr) : Number(nudge->second.de)},
          {"influence", nudge == report.scan_nudges.end() ? Json(nullptr) : Number(nudge->second.influence)},
          {"seen", SeenJson(report, scan.id)}};
}

// The handles of hues, and of grain and acutance as far as `last`.
void AddHues(const record::Handles& handles, record::Handle last, Json& json) {
  for (const record::HandleFacts& facts : record::AllHandles()) {
    if (facts.handle <= record::Handle::kChroma || facts.handle > last) continue;
    std::string key = facts.name;
    std::replace(key.begin(), key.end(), ' ', '_');
    json[key] = Number(record::ValueOf(handles, facts.handle));
  }
}

Json CorrectionJson(const record::FrameSolution& solution) {
  Json correction = HandlesJson(solution.shown);
  correction["look"] = OrNull(solution.look);
  correction["follow"] = Number(100 * solution.correction.follow);
  correction["follow_skin"] = Number(100 * solution.correction.follow_skin);
  const auto own = [](double share) { return share < 0 ? Json(nullptr) : Number(100 * share); };
  correction["follow_foliage"] = own(solution.correction.follow_foliage);
  correction["follow_sky"] = own(solution.correction.follow_sky);
  correction["touch"] = HandlesJson(solution.correction.touch);
  AddHues(solution.correction.touch, record::Handle::kAcutance, correction["touch"]);
  return correction;
}

Json LeftOverJson(const std::vector<record::LeftOver>& left_over) {
  Json all = Json::array();
  for (const record::LeftOver& l : left_over)
    all.push_back(
        {{"region", Name(l.region)},
         {"face", l.face < 0 ? Json(nullptr) : Json(l.face)},
         {"side", l.side == record::Side::kWhole ? Json(nullptr)
                                                 : Json(l.side == record::Side::kLit ? "lit" : "shaded")},
         {"before", Number(l.before)},
         {"after", Number(l.after)},
         {"lab_scan", Triple(l.lab_scan)},
         {"lab_after", Triple(l.lab_after)},
         {"nudge", Number(l.nudge)},
         {"off_aim", Number(l.off_aim)},
         {"cells", l.cells}});
  return all;
}

Json UncertaintyJson(const record::Uncertainty& u) {
  Json json = HandlesJson(u.handles);
  AddHues(u.handles, record::Handle::kSkyLightness, json);
  json["skin"] = Number(u.skin);
  json["foliage"] = Number(u.foliage);
  json["neutrals"] = Number(u.neutral);
  return json;
}

Json FrameJson(const Report& report, const Index& index, const record::Photo& frame) {
  const record::FrameSolution* solution = index.Solution(frame.id);
  Json json = {{"frame", index.NameOf(frame.id)},
               {"path", frame.path},
               {"output", OrNull(index.Output(frame.id))},
               {"source", record::SourceName(frame)},
               {"light", LightName(index, frame.id)}};
  if (solution == nullptr) {
    json.update(Json{{"scan", nullptr},
                     {"correction", nullptr},
                     {"left_over", Json::array()},
                     {"uncertainty", nullptr},
                     {"flags", Json::array()},
                     {"seen", SeenJson(report, frame.id)}});
    return json;
  }
  json["scan"] = OrNull(index.NameOf(solution->scan));
  json["correction"] = CorrectionJson(*solution);
  json["left_over"] = LeftOverJson(solution->left_over);
  json["uncertainty"] = UncertaintyJson(solution->uncertainty);
  json["flags"] = Json::array();
  for (const record::Flag& flag : solution->flags)
    json["flags"].push_back({{"kind", Name(flag.kind)}, {"text", flag.text}});
  json["seen"] = SeenJson(report, frame.id);
  return json;
}

Json TotalsJson(const Totals& t) {
  Json regions = Json::array();
  for (const RegionTotal& r : t.regions)
    regions.push_back({{"region", Name(r.region)},
                       {"frames", r.frames},
                       {"before", Number(r.before)},
                       {"after", Number(r.after)}});
  return {{"scans", t.scans},
          {"moment", t.moment},
          {"light", t.light},
          {"none", t.none},
          {"barred", t.barred},
          {"rolls", t.rolls},
          {"lights", t.lights},
          {"lights_with_film", t.lights_with_film},
          {"frames", t.frames},
          {"solved", t.solved},
          {"delivered", t.delivered},
          {"settled", t.settled},
          {"to_check", t.to_check},
          {"problems", t.problems},
          {"film_to_film", t.film_to_film_rolls > 0 ? Number(t.film_to_film) : Json(nullptr)},
          {"film_to_film_rolls", t.film_to_film_rolls},
          {"left_over", std::move(regions)}};
}

// Of L*, a*, b* over a light's frames; null where fewer than two show skin.
Json SkinSigma(const Report& report, LightId light) {
  for (const Report::SkinSpread& s : report.skin_spread)
    if (s.light == light) return Triple(s.sigma);
  return nullptr;
}

// Null where fewer than two scans tell.
Json FilmToFilm(const Report& report, RollId roll) {
  for (const Report::RollSpread& s : report.roll_spreads)
    if (s.roll == roll) return Number(s.de);
  return nullptr;
}

Json ReportJson(const Report& report) {
  const Index index(report);
  Json json = {{"schema", kSchema},
               {"program", "samelight " + report.version},
               {"session", report.session},
               {"totals", TotalsJson(Sum(report))},
               {"pairs", PairsJson(report, index)}};
  Json scans = Json::array(), frames = Json::array(), lights = Json::array(), rolls = Json::array();
  for (const record::Photo& p : report.photos)
    if (p.role == record::Role::kScan)
      scans.push_back(ScanJson(report, index, p));
    else
      frames.push_back(FrameJson(report, index, p));
  for (const record::Light& l : report.lights)
    lights.push_back({{"name", l.name},
                      {"skin_sigma", SkinSigma(report, l.id)},
                      {"warmth", Number(l.mired)},
                      {"green_magenta", Number(1000 * l.duv)},
                      {"narrow_band", l.narrow_band},
                      {"frames", Names(index, l.frames)},
                      {"scans", Names(index, l.scans)}});
  for (const record::Roll& r : report.rolls) {
    Json names = Names(index, r.scans);
    if (names.empty()) continue;
    rolls.push_back({{"name", r.name},
                     {"stock", OrNull(r.stock)},
                     {"lab", OrNull(r.lab)},
                     {"black_and_white", r.black_and_white},
                     {"expired", r.expired},
                     {"film_to_film", FilmToFilm(report, r.id)},
                     {"push", Number(r.push_ev)},
                     {"format", OrNull(r.format)},
                     {"rating", r.rating_iso > 0 ? Number(r.rating_iso) : Json(nullptr)},
                     {"scan_day", OrNull(r.scan_day)},
                     {"scans", std::move(names)}});
  }
  json["scans"] = std::move(scans);
  json["lights"] = std::move(lights);
  json["rolls"] = std::move(rolls);
  json["frames"] = std::move(frames);
  json["problems"] = Json::array();
  for (const Problem& p : report.problems)
    json["problems"].push_back({{"file", p.file},
                                {"what", p.what},
                                {"why", p.why},
                                {"todo", OrNull(p.todo)},
                                {"code", ErrorCodeName(p.code)}});
  json["clocks"] = Json::array();
  for (const Clock& c : report.clocks)
    json["clocks"].push_back(
        {{"body", c.body}, {"offset", Number(c.offset_s)}, {"confidence", Number(c.confidence)}});
  json["notes"] = report.notes;
  json["settings"] = {{"follow", Number(100 * report.follow)},
                      {"tolerance", Number(report.tolerance)},
                      {"follow_scan", report.follow_scan},
                      {"skin_weight", Number(report.skin_weight)}};
  json["thresholds"] = Json::array();
  for (const Threshold& t : Thresholds())
    json["thresholds"].push_back(
        {{"name", t.name}, {"text", t.text}, {"value", t.value}, {"unit", t.unit}, {"source", t.source}});
  return json;
}

}  // namespace

std::string JsonText(const Report& report) {
  return ReportJson(report).dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Status WriteJson(const std::filesystem::path& path, const Report& report) {
  return WriteFileWhole(path, JsonText(report));
}

}  // namespace samelight::report
