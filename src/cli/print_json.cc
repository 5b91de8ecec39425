#include "cli/print_json.h"

#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include "job/order_fields.h"

namespace samelight::cli {
namespace {

using Object = nlohmann::ordered_json;

// Bytes of file names that are not UTF-8 are replaced; numbers that are not finite become null by themselves.
std::string Text(const Object& object) {
  return object.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

Object Of(const std::vector<job::Problem>& problems) {
  Object list = Object::array();
  for (const job::Problem& p : problems)
    list.push_back({{"file", p.file},
                    {"what", p.what},
                    {"why", p.why},
                    {"todo", p.todo},
                    {"code", ErrorCodeName(p.code)}});
  return list;
}

Object Of(const job::StockAnswer& a) {
  return {{"scans", a.scans}, {"frames", a.frames},   {"rolls", a.rolls},
          {"added", a.added}, {"changed", a.changed}, {"moved", a.moved},
          {"gone", a.gone},   {"missing", a.missing}, {"problems", Of(a.problems)}};
}
Object Of(const job::PairAnswer& a) {
  return {{"scans", a.scans},       {"moment", a.moment},       {"light", a.light},
          {"none", a.none},         {"undecided", a.undecided}, {"lights", a.lights},
          {"computed", a.computed}, {"notes", a.notes},         {"problems", Of(a.problems)}};
}
Object Of(const job::MatchAnswer& a) {
  return {{"frames", a.frames},     {"settled", a.settled}, {"to_check", a.to_check},
          {"computed", a.computed}, {"notes", a.notes},     {"problems", Of(a.problems)}};
}
Object Of(const job::DeliverAnswer& a) {
  return {{"out", a.out.string()}, {"frames", a.frames}, {"scans", a.scans},          {"written", a.written},
          {"kept", a.kept},        {"notes", a.notes},   {"problems", Of(a.problems)}};
}
Object Of(const record::Handles& h) {
  return {{"exposure", h.exposure_ev},
          {"warmth", h.warmth_mired},
          {"green_magenta", h.green_magenta},
          {"gamma", h.gamma},
          {"toe", h.toe},
          {"shoulder", h.shoulder},
          {"black_density", h.black_density},
          {"chroma", h.chroma}};
}

template <class T>
Object OrNull(const std::optional<T>& value) {
  return value ? Object(*value) : Object();
}
Object OrNull(const std::string& text) { return text.empty() ? Object() : Object(text); }

}  // namespace

std::string Json(const job::StockAnswer& answer) { return Text(Of(answer)); }
std::string Json(const job::PairAnswer& answer) { return Text(Of(answer)); }
std::string Json(const job::MatchAnswer& answer) { return Text(Of(answer)); }
std::string Json(const job::DeliverAnswer& answer) { return Text(Of(answer)); }

std::string Json(const job::OrderAnswer& a) {
  Object orders = Object::array();
  for (const record::Order& order : a.orders) {
    Object fields = {{"name", order.name}};
    for (const job::OrderField& field : job::OrderFields()) {
      std::string key = field.name;
      std::replace(key.begin(), key.end(), '-', '_');
      fields[key] = job::FieldText(order, field.name);
    }
    orders.push_back(std::move(fields));
  }
  return Text({{"orders", orders}, {"approved", a.approved}});
}
std::string Json(const job::CropAnswer& a) { return Text({{"frames", a.frames}}); }
std::string Json(const job::SettleAnswer& a) { return Text({{"frames", a.frames}, {"settled", a.settled}}); }
std::string Json(const job::StateAnswer& a) {
  Object states = Object::array();
  for (const job::StateAnswer::State& state : a.states)
    states.push_back({{"name", state.name}, {"told", state.told}});
  return Text({{"now", a.now}, {"states", states}});
}

std::string Json(const job::RunAnswer& a) {
  Object stages = {
      {"stock", Of(a.stock)}, {"pair", Of(a.pair)}, {"match", Of(a.match)}, {"deliver", Of(a.deliver)}};
  for (auto& [name, stage] : stages.items()) stage.erase("problems");  // all of them stand below
  stages["session"] = a.session.string();
  stages["report_json"] = a.report_json.string();
  stages["report_html"] = a.report_html.string();
  stages["seconds"] = a.seconds;
  stages["problems"] = Of(a.problems);
  return Text(stages);
}

namespace {

Object TextsOf(const std::vector<record::Flag>& flags) {
  Object texts = Object::array();
  for (const record::Flag& flag : flags) texts.push_back(flag.text);
  return texts;
}
Object KindsOf(const std::vector<record::Flag>& flags) {
  Object kinds = Object::array();
  for (const record::Flag& flag : flags) kinds.push_back(record::Name(flag.kind));
  return kinds;
}

}  // namespace

std::string Json(const job::CheckAnswer& a) {
  Object regions = Object::array(), frames = Object::array(), seen = Object::array();
  for (const report::RegionTotal& r : a.totals.regions)
    regions.push_back(
        {{"region", record::Name(r.region)}, {"frames", r.frames}, {"before", r.before}, {"after", r.after}});
  for (const job::CheckAnswer::Frame& f : a.to_check)
    frames.push_back({{"frame", f.name},
                      {"light", OrNull(f.light)},
                      {"scan", OrNull(f.scan)},
                      {"left_over", f.worst_region.empty() ? Object() : Object(f.left_over)},
                      {"region", OrNull(f.worst_region)},
                      {"reasons", TextsOf(f.reasons)},
                      {"reason_kinds", KindsOf(f.reasons)}});
  Object thresholds = Object::array(), skin = Object::array();
  for (const report::Threshold& t : report::Thresholds())
    thresholds.push_back(
        {{"name", t.name}, {"text", t.text}, {"value", t.value}, {"unit", t.unit}, {"source", t.source}});
  for (const job::CheckAnswer::Skin& s : a.skin)
    skin.push_back(
        {{"light", s.light}, {"frames", s.frames}, {"sigma", {s.sigma[0], s.sigma[1], s.sigma[2]}}});
  for (const job::CheckAnswer::Seen& s : a.seen) seen.push_back({{"picture", s.picture}, {"text", s.text}});
  return Text({{"frames", a.totals.frames},
               {"settled", a.totals.settled},
               {"to_check", a.totals.to_check},
               {"left_over", regions},
               {"thresholds", thresholds},
               {"film_to_film", a.totals.film_to_film_rolls > 0 ? Object(a.totals.film_to_film) : Object()},
               {"skin", skin},
               {"look_at", frames},
               {"scans_without_frame", a.scans_without_frame},
               {"seen", seen},
               {"notes", a.notes},
               {"problems", Of(a.problems)}});
}

std::string Json(const job::PictureAnswer& a) {
  const record::Capture& c = a.photo.capture;
  Object text = {{"name", a.name},
                 {"path", a.photo.path},
                 {"role", record::Name(a.photo.role)},
                 {"encoding", record::Name(a.photo.encoding)},
                 {"hash", OrNull(a.photo.hash)},
                 {"width", a.photo.width_px},
                 {"height", a.photo.height_px},
                 {"body", OrNull(c.body)},
                 {"lens", OrNull(c.lens)},
                 {"exposure_time", OrNull(c.exposure_time_s)},
                 {"aperture", OrNull(c.aperture)},
                 {"iso", OrNull(c.iso)},
                 {"rating", OrNull(c.rating)},
                 {"roll", OrNull(a.roll)},
                 {"light", OrNull(a.light)},
                 {"partner", OrNull(a.partner)},
                 {"output", OrNull(a.output)}};
  if (a.photo.role == record::Role::kFrame) {
    const record::Crop& cut = a.framing.crop;
    text["framing"] = {{"quarter_turns", a.framing.quarter_turns},
                       {"straighten", cut.angle_deg},
                       {"cut", {cut.left, cut.top, cut.right, cut.bottom}}};
  }
  if (a.pair) {
    Object others = Object::array();
    for (const auto& [name, other] : a.alternatives)
      others.push_back(
          {{"frame", OrNull(name)}, {"kind", record::Name(other.kind)}, {"confidence", other.confidence}});
    text["pair"] = {{"kind", record::Name(a.pair->kind)},
                    {"confidence", a.pair->confidence},
                    {"by_person", a.pair->by_person},
                    {"alternatives", others}};
  }
  Object scans = Object::array();
  for (const auto& [name, pair] : a.scans)
    scans.push_back({{"scan", name}, {"kind", record::Name(pair.kind)}, {"confidence", pair.confidence}});
  if (a.photo.role == record::Role::kFrame) text["scans"] = scans;
  if (a.solution) {
    Object left = Object::array();
    for (const record::LeftOver& l : a.solution->left_over)
      left.push_back({{"region", record::Name(l.region)},
                      {"face", l.face < 0 ? Object() : Object(l.face)},
                      {"side", l.side == record::Side::kWhole ? Object()
                               : l.side == record::Side::kLit ? Object("lit")
                                                              : Object("shaded")},
                      {"before", l.before},
                      {"after", l.after},
                      {"nudge", l.nudge},
                      {"off_aim", l.off_aim}});
    text["correction"] = Of(a.solution->shown);
    text["correction"]["look"] = OrNull(a.solution->look);
    text["correction"]["follow"] = a.solution->correction.follow * 100;
    text["touch"] = Of(a.solution->correction.touch);
    text["left_over"] = left;
    text["flags"] = TextsOf(a.solution->flags);
    text["flag_kinds"] = KindsOf(a.solution->flags);
  }
  return Text(text);
}

std::string Json(const job::DemoAnswer& a) {
  return Text({{"film", a.film.string()},
               {"digital", a.digital.string()},
               {"truth", a.truth.string()},
               {"scans", a.scans},
               {"frames", a.frames},
               {"note", OrNull(a.note)}});
}

std::string Json(const job::UndoAnswer& a) {
  return Text({{"change", OrNull(a.what)}, {"standing", a.standing}, {"taken_back", a.taken_back}});
}

std::string Json(const job::HistoryAnswer& a) {
  const auto number = [](const std::optional<std::int64_t>& step) {
    return step ? Object(*step) : Object(nullptr);
  };
  Object steps = Object::array();
  for (const job::HistoryAnswer::Step& s : a.steps)
    steps.push_back(
        {{"step", s.number}, {"made_us", s.made_us}, {"change", s.what}, {"taken_back", !s.standing}});
  return Text({{"steps", steps}, {"undo_next", number(a.undo_next)}, {"redo_next", number(a.redo_next)}});
}

std::string Json(const Error& e) {
  return Text(
      {{"error", {{"code", ErrorCodeName(e.code)}, {"what", e.what}, {"file", e.file}, {"todo", e.todo}}}});
}

}  // namespace samelight::cli
