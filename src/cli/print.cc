#include "cli/print.h"

#include <chrono>
#include <cstdio>

#include <fmt/format.h>

#include "cli/print_json.h"

namespace samelight::cli {
namespace {

// "1 scan", "2 scans".
std::string Count(long number, const std::string& thing) {
  return fmt::format("{} {}{}", number, thing, number == 1 ? "" : "s");
}

template <class... Args>
void Line(fmt::format_string<Args...> format, Args&&... args) {
  fmt::print(stdout, "{}\n", fmt::format(format, std::forward<Args>(args)...));
}

// "2026-05-30 14:03 UTC"
std::string Minute(std::int64_t us) {
  using namespace std::chrono;
  const sys_time<microseconds> time{microseconds(us)};
  const auto day = floor<days>(time);
  const year_month_day date(day);
  const hh_mm_ss clock(floor<minutes>(time - day));
  return fmt::format("{:04}-{:02}-{:02} {:02}:{:02} UTC", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                     clock.hours().count(), clock.minutes().count());
}

void PrintProblems(const std::vector<job::Problem>& problems) {
  for (const job::Problem& p : problems)
    fmt::print(stderr, "{}: {}{}{}\n", p.what, p.file.empty() ? "" : p.file + ": ", p.why,
               p.todo.empty() ? "" : " (" + p.todo + ")");
}

void PrintNotes(const std::vector<std::string>& notes) {
  for (const std::string& note : notes) Line("note: {}", note);
}

void Stock(const job::StockAnswer& a) {
  if (a.scans == 0)
    Line("no film scan, {}", Count(a.frames, "frame"));
  else
    Line("{} on {}, {}", Count(a.scans, "scan"), Count(a.rolls, "roll"), Count(a.frames, "frame"));
  if (a.changed > 0) Line("{} changed since the last time", Count(a.changed, "file"));
  if (a.moved > 0) Line("{} found again at another place", Count(a.moved, "file"));
  if (a.missing > 0)
    Line("{} not where they were; name the folder they are in now", Count(a.missing, "file"));
}

void Pairs(const job::PairAnswer& a) {
  if (a.lights == 0)
    Line("no frames to pair with: {} without", Count(a.scans, "scan"));
  else if (a.scans == 0)
    Line("no scans to pair; {}", Count(a.lights, "light"));
  else {
    Line("{}: {} with a frame of the same moment, {} of the same light, {} without{}", Count(a.scans, "scan"),
         a.moment, a.light, a.none, a.undecided > 0 ? fmt::format(" ({} undecided)", a.undecided) : "");
    if (a.none == a.scans && a.undecided == 0)
      Line("no scan shows what a frame shows: it may be film of another event");
    Line("{}", Count(a.lights, "light"));
  }
  PrintNotes(a.notes);
}

void Matched(const job::MatchAnswer& a) {
  Line("{} solved: {} settled, {} to check", Count(a.frames, "frame"), a.settled, a.to_check);
  PrintNotes(a.notes);
}

void Delivered(const job::DeliverAnswer& a) {
  const std::string scans =
      a.scans > 0 ? fmt::format("{}{}", a.frames > 0 ? " and " : "", Count(a.scans, "scan")) : "";
  Line("{} of {}{} in {}{}", Count(a.written + a.kept, "file"),
       a.frames > 0 || a.scans == 0 ? Count(a.frames, "frame") : "", scans, a.out.string(),
       a.kept > 0 ? fmt::format(" ({} delivered earlier)", a.kept) : "");
  PrintNotes(a.notes);
}

void PrintHandles(const record::Handles& h) {
  Line(
      "  exposure {:+.2f} EV, warmth {:+.0f} mired, green-magenta {:+.1f}, gamma {:+.2f}, black density "
      "{:+.2f}, "
      "chroma {:+.0f} %",
      h.exposure_ev, h.warmth_mired, h.green_magenta, h.gamma, h.black_density, h.chroma * 100);
}

}  // namespace

void Print(const job::StockAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Stock(answer);
  PrintProblems(answer.problems);
}

void Print(const job::PairAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  if (!answer.computed) Line("nothing has changed since the last time");
  Pairs(answer);
  PrintProblems(answer.problems);
}

void Print(const job::MatchAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  if (!answer.computed) Line("nothing has changed since the last time");
  Matched(answer);
  PrintProblems(answer.problems);
}

void Print(const job::DeliverAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Delivered(answer);
  PrintProblems(answer.problems);
}

void Print(const job::OrderAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  if (answer.approved > 0) Line("{} approved", Count(answer.approved, "picture"));
  if (answer.orders.empty()) Line("the session keeps no order");
  for (std::size_t i = 0; i < answer.orders.size(); ++i)
    Line("{}: {}", answer.orders[i].name, answer.told[i]);
}

void Print(const job::CropAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Line("{} framed", Count(answer.frames, "frame"));
}

void Print(const job::SettleAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Line("{} {}", Count(answer.frames, "frame"), answer.settled ? "settled" : "to be checked");
}

void Print(const job::StateAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Line("now: {}", answer.now);
  for (const job::StateAnswer::State& state : answer.states) Line("{}: {}", state.name, state.told);
  if (answer.states.empty()) Line("no state is kept");
}

void Print(const job::RunAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Stock(answer.stock);
  Pairs(answer.pair);
  Matched(answer.match);
  Delivered(answer.deliver);
  Line("report: {}", answer.report_html.string());
  PrintProblems(answer.problems);
}

void Print(const job::CheckAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Line("{}: {} settled, {} to check", Count(answer.totals.frames, "frame"), answer.totals.settled,
       answer.totals.to_check);
  if (!answer.totals.regions.empty()) Line("left-over against the scans, median CIEDE2000 (before, after):");
  for (const report::RegionTotal& r : answer.totals.regions)
    Line("  {:<12} {:5.1f} {:5.1f}   in {}", record::Name(r.region), r.before, r.after,
         Count(r.frames, "frame"));
  if (!answer.totals.regions.empty()) {
    for (const report::Threshold& t : report::Thresholds())
      Line("  {:.1f} {}: {} ({})", t.value, t.unit, t.text, t.source);
    if (answer.totals.film_to_film_rolls > 0)
      Line(
          "  {:.1f} CIEDE2000: film-to-film difference inside a roll, between any two scans by the lab's own "
          "nudges, over {}",
          answer.totals.film_to_film, Count(answer.totals.film_to_film_rolls, "roll"));
  }
  if (!answer.skin.empty()) Line("skin inside a light, standard deviation of L*, a*, b*:");
  for (const job::CheckAnswer::Skin& skin : answer.skin)
    Line("  {:<24} {:4.1f} {:4.1f} {:4.1f}   over {}", skin.light, skin.sigma[0], skin.sigma[1],
         skin.sigma[2], Count(skin.frames, "frame"));
  for (const job::CheckAnswer::Frame& frame : answer.to_check) {
    Line("{}{}{}", frame.name, frame.light.empty() ? "" : ", " + frame.light,
         frame.worst_region.empty()
             ? ""
             : fmt::format(", left-over {:.1f} ({})", frame.left_over, frame.worst_region));
    for (const record::Flag& reason : frame.reasons) Line("  {}", reason.text);
  }
  for (const std::string& scan : answer.scans_without_frame) Line("scan without a frame: {}", scan);
  for (const job::CheckAnswer::Seen& seen : answer.seen) Line("seen in {}: {}", seen.picture, seen.text);
  PrintNotes(answer.notes);
  PrintProblems(answer.problems);
}

void Print(const job::PictureAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  const record::Photo& photo = answer.photo;
  Line("{} ({}, {}, {} x {} px)", answer.name, record::Name(photo.role), record::Name(photo.encoding),
       photo.width_px, photo.height_px);
  Line("  {}", photo.path);
  if (!photo.capture.body.empty()) Line("  taken with {}", photo.capture.body);
  if (!answer.roll.empty()) Line("  on {}, place {}", answer.roll, photo.roll_position + 1);
  if (!answer.light.empty()) Line("  in {}", answer.light);
  if (answer.pair) {
    if (answer.pair->kind == record::PairKind::kNone)
      Line("  {}", record::IsUndecided(*answer.pair) ? "no frame is sure enough to go with it"
                                                     : "no frame goes with it");
    else
      Line("  {} of the same {}, confidence {:.2f}{}", answer.partner, record::Name(answer.pair->kind),
           answer.pair->confidence, answer.pair->by_person ? ", by hand" : "");
    for (const auto& [name, other] : answer.alternatives)
      if (!name.empty())
        Line("  or {} of the same {}, {:.2f}", name, record::Name(other.kind), other.confidence);
  }
  for (const auto& [name, pair] : answer.scans)
    Line("  scan {} of the same {}, confidence {:.2f}{}", name, record::Name(pair.kind), pair.confidence,
         pair.by_person ? ", by hand" : "");
  if (answer.solution) {
    PrintHandles(answer.solution->shown);
    for (const record::LeftOver& left : answer.solution->left_over)
      Line("  left-over {:<19} {:5.1f} before, {:5.1f} after{}", report::RegionName(left), left.before,
           left.after, left.nudge >= 0.05 ? fmt::format(", {:.1f} the scan's own nudge", left.nudge) : "");
    for (const record::Flag& flag : answer.solution->flags) Line("  look at this one: {}", flag.text);
  }
  if (!answer.output.empty()) Line("  delivered as {}", answer.output);
}

void Print(const report::Report& report, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", job::JsonOf(report));
  const report::Totals totals = report::Sum(report);
  Line("{}: {} on {}, {} in {}", report.session, Count(totals.scans, "scan"), Count(totals.rolls, "roll"),
       Count(totals.frames, "frame"), Count(totals.lights, "light"));
  Line("scans: {} with a frame of the same moment, {} of the same light, {} without", totals.moment,
       totals.light, totals.none);
  Line("frames: {} solved, {} to check, {} delivered", totals.solved, totals.to_check, totals.delivered);
  for (const record::Roll& roll : report.rolls)
    Line("{}: {}{}{}{}", roll.name, Count(static_cast<long>(roll.scans.size()), "scan"),
         roll.stock.empty() ? "" : ", " + roll.stock, roll.black_and_white ? ", black and white" : "",
         roll.expired ? ", expired: kept out of the look" : "");
  for (const record::Light& light : report.lights)
    Line("{}: {}, {}, {:.0f} mired", light.name, Count(static_cast<long>(light.frames.size()), "frame"),
         Count(static_cast<long>(light.scans.size()), "scan"), light.mired);
  PrintNotes(report.notes);
  PrintProblems(report.problems);
}

void Print(const job::DemoAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  Line("{} in {}", Count(answer.scans, "scan"), answer.film.string());
  Line("{} in {}", Count(answer.frames, "frame"), answer.digital.string());
  if (!answer.note.empty()) Line("note: {}", answer.note);
  Line("try: samelight run --film {} --digital {} --out {}", answer.film.string(), answer.digital.string(),
       (answer.film.parent_path() / "out").string());
}

void Print(const job::ScoreAnswer& answer, As as) {
  fmt::print(stdout, "{}", as == As::kJson ? answer.json : answer.text);
}

void Print(const job::UndoAnswer& answer, bool undo, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  if (answer.what.empty())
    Line("{}", undo ? "there is no change to take back" : "there is no change to bring back");
  else
    Line("{}: {}\n`samelight match SESSION` carries it through", undo ? "taken back" : "brought back",
         answer.what);
}

void Print(const job::HistoryAnswer& answer, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer));
  if (answer.steps.empty()) Line("no change has been made by hand");
  for (const job::HistoryAnswer::Step& step : answer.steps)
    Line("{:>4}  {}  {}{}", step.number, Minute(step.made_us), step.what,
         step.standing ? "" : " (taken back)");
  if (answer.undo_next) Line("`samelight undo SESSION` takes step {} back", *answer.undo_next);
  if (answer.redo_next) Line("`samelight redo SESSION` brings step {} back", *answer.redo_next);
}

void Print(const Error& error, As as) {
  if (as == As::kJson) fmt::print(stdout, "{}", Json(error));
  fmt::print(stderr, "samelight: {}\n", error.Text());
}

}  // namespace samelight::cli
