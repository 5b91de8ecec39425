// One page that an editor reads before the delivery goes out.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "base/file.h"
#include "report/index.h"
#include "report/markup.h"
#include "report/style.h"
#include "report/words.h"

namespace samelight::report {
namespace {

constexpr int kStripPx =
    240;  // long side of small pictures; about twice their size on the page, for dense screens
constexpr int kListPx = 304;
constexpr int kPairPx = 720;
constexpr int kManyPairsPx = 480;  // keeps the page of a long session within what a browser opens at ease
constexpr std::size_t kManyPairs = 60;

class Page {
 public:
  Page(const Report& report, const Thumbnail& thumbnail)
      : report_(report), thumbnail_(thumbnail), index_(report), totals_(Sum(report)) {
    double largest = 8;
    for (const record::FrameSolution& s : report.frames)
      for (const record::LeftOver& l : s.left_over)
        for (const double de : {l.before, l.after})
          if (std::isfinite(de)) largest = std::max(largest, de);
    scale_ = std::min(largest, 24.0);
  }

  std::string Text() {
    Head();
    Summary();
    Add("<main>");
    Worklist();
    Problems();
    Pairs();
    Unpaired();
    Lights();
    Notes();
    Add("</main>");
    Foot();
    return std::move(text_);
  }

 private:
  void Add(std::string_view html) { text_ += html; }

  std::string NameSpan(PhotoId id) const {
    return fmt::format("<span class=name>{}</span>", Escape(index_.NameOf(id)));
  }

  double Aspect(PhotoId id) const {
    const record::Photo* photo = index_.Photo(id);
    if (photo == nullptr || photo->width_px <= 0 || photo->height_px <= 0) return 1.5;
    return std::clamp(static_cast<double>(photo->width_px) / photo->height_px, 0.3, 4.0);
  }

  // An <img>, or an empty string where there is no picture.
  std::string Image(PhotoId id, Version version, int long_side_px, const std::string& alt) const {
    const std::vector<std::uint8_t> jpeg = thumbnail_(id, version, long_side_px);
    if (jpeg.empty()) return "";
    return fmt::format("<img src=\"{}\" alt=\"{}\">", JpegUri(jpeg), Escape(alt));
  }

  void Head() {
    // The policy keeps the page from asking the network for anything, whatever a file name holds.
    Add("<!doctype html><html lang=en><head><meta charset=utf-8>"
        "<meta http-equiv=Content-Security-Policy content=\"default-src 'none'; img-src data:; style-src "
        "'unsafe-inline'\"><meta name=viewport content=\"width=device-width,initial-scale=1\">");
    Add(fmt::format("<title>{} \u2013 report</title><style>{}</style></head><body>", Escape(report_.session),
                    kStyle));
  }

  void Summary() {
    const Totals& t = totals_;
    Add(fmt::format("<header class=top><div><h1><span class=name>{}</span></h1>", Escape(report_.session)));
    Add(fmt::format(
        "<p>{} in {}, {} on {}. {} delivered.", Count(t.frames, "frame"), Count(t.lights, "light"),
        Count(t.scans, "scan"), Count(t.rolls, "roll"),
        t.delivered == t.frames ? "All are" : fmt::format("{} of {} are", t.delivered, t.frames)));
    const int without = t.lights - t.lights_with_film;
    if (without > 0 && t.lights_with_film > 0)
      Add(fmt::format(" {} {} no film of {} own and {} the look from {} neighbours.", Count(without, "light"),
                      without == 1 ? "has" : "have", without == 1 ? "its" : "their",
                      without == 1 ? "takes" : "take", without == 1 ? "its" : "their"));
    Add("</p><ul class=counts>");
    const auto count = [&](int number, const char* what) {
      Add(fmt::format("<li><b>{}</b>{}</li>", number, what));
    };
    count(t.settled, "settled");
    count(t.to_check, "to check");
    count(t.moment, "scans with a frame of the same moment");
    if (t.light > 0) count(t.light, "scans with the same light only");
    if (t.none > 0) count(t.none, "scans without a frame");
    if (t.problems > 0) count(t.problems, "problems");
    Add("</ul></div>");
    if (!t.regions.empty()) {
      Add(fmt::format(
          "<div><table class=marks><caption><b>Left-over</b><span class=dim>scan against frame, median "
          "CIEDE2000; "
          "outline: as the camera made it; mark: tolerance {}</span></caption><thead><tr>"
          "<th scope=col>region<th scope=col class=bar><th scope=col class=num>before<th scope=col "
          "class=num>now<th scope=col class=num>frames</thead><tbody>",
          Figure(report_.tolerance)));
      for (const RegionTotal& r : t.regions)
        Add(fmt::format(
            "<tr><th scope=row>{}<td class=bar>{}<td class=num>{}<td class=\"num now\">{}<td class=num>{}",
            Name(r.region), Bar(r.before, r.after), Figure(r.before), Figure(r.after), r.frames));
      Add("</tbody></table></div>");
    }
    Add("</header>");
  }

  // The left-over now is grey up to the tolerance and white beyond; the outline is the left-over before.
  // Decoration: the figures stand beside it.
  std::string Bar(double before, double after) const {
    const auto x = [&](double de) {
      return std::isfinite(de) ? 100 * std::clamp(de, 0.0, scale_) / scale_ : 0.0;
    };
    const double now = x(after), mark = x(report_.tolerance);
    std::string bar = "<svg viewBox='0 0 100 16' preserveAspectRatio=none aria-hidden=true>";
    const auto part = [&](const char* what, double from, double to) {
      if (to > from)
        bar += fmt::format("<rect class={} x='{:.2f}' y=4 width='{:.2f}' height=8 />", what, from, to - from);
    };
    part("well", 0, 100);
    part("was", 0, x(before));
    part("kept", 0, std::min(now, mark));
    part("over", mark, now);
    return bar + fmt::format("<path class=mark d='M{:.2f} 0V16'/></svg>", mark);
  }

  // Frames of one light that share their reasons are told once: a light without film would fill the page.
  std::vector<std::vector<const record::Photo*>> WorklistGroups() const {
    std::map<std::pair<const record::Light*, std::vector<record::Flag>>, std::size_t> place;
    std::vector<std::vector<const record::Photo*>> groups;
    for (const record::Photo& photo : report_.photos) {
      const record::FrameSolution* s = index_.Solution(photo.id);
      if (photo.role != record::Role::kFrame || s == nullptr || s->flags.empty()) continue;
      const auto [it, added] = place.try_emplace({index_.LightOf(photo.id), s->flags}, groups.size());
      if (added) groups.emplace_back();
      groups[it->second].push_back(&photo);
    }
    return groups;
  }

  void Worklist() {
    if (totals_.to_check == 0) return;
    Add(fmt::format(
        "<section><h2>To check</h2><p>{}, with the reason. All others are settled.</p><ul class=list>",
        Count(totals_.to_check, "frame")));
    for (const std::vector<const record::Photo*>& group : WorklistGroups()) {
      const record::Photo& first = *group.front();
      Add(fmt::format(
          "<li><div class=shot>{}</div><div class=say><h3>{}{}</h3>",
          Image(first.id, Version::kDelivered, kListPx, "frame " + index_.NameOf(first.id) + ", delivered"),
          NameSpan(first.id), group.size() == 1 ? "" : fmt::format(" and {} more", group.size() - 1)));
      Add(fmt::format("<span class=dim>{}</span><ul>", Escape(WhereAndWhen(first))));
      for (const record::Flag& flag : index_.Solution(first.id)->flags)
        Add(fmt::format("<li>{}</li>", Escape(flag.text)));
      Add("</ul>");
      if (group.size() > 1) {
        Add("<p class=more>");
        for (std::size_t i = 1; i < group.size(); ++i)
          Add(NameSpan(group[i]->id) + (i + 1 < group.size() ? ", " : ""));
        Add("</p>");
      }
      Add("</div></li>");
    }
    Add("</ul></section>");
  }

  // "light 3, 13:24, raw"
  std::string WhereAndWhen(const record::Photo& photo) const {
    std::string text;
    if (const record::Light* light = index_.LightOf(photo.id); light != nullptr) text += light->name + ", ";
    if (const std::optional<std::int64_t> time_us = index_.TimeUs(photo); time_us.has_value())
      text += ClockTime(*time_us) + ", ";
    return text + Name(photo.encoding);
  }

  void Problems() {
    if (report_.problems.empty()) return;
    Add("<section><h2>Problems</h2><p>These files were set aside or could not be delivered. Nothing else was "
        "held up "
        "by them.</p><table class=wide style='margin-top:16px'><thead><tr><th scope=col>file<th "
        "scope=col>what "
        "happened<th scope=col>why<th scope=col>what to do</thead><tbody>");
    for (const Problem& p : report_.problems)
      Add(fmt::format(
          "<tr><th scope=row style='white-space:normal'><span class=name>{}</span><td>{}<td>{}<td>{}",
          Escape(p.file), Escape(p.what), Escape(p.why), Escape(p.todo)));
    Add("</tbody></table></section>");
  }

  // In the order of the rolls.
  std::vector<const record::Pair*> ShownPairs() const {
    std::vector<const record::Pair*> shown;
    for (const record::Photo& photo : report_.photos) {
      const record::Pair* pair = photo.role == record::Role::kScan ? index_.PairOfScan(photo.id) : nullptr;
      if (pair != nullptr && pair->kind != record::PairKind::kNone && index_.Photo(pair->frame) != nullptr)
        shown.push_back(pair);
    }
    return shown;
  }

  void Pairs() {
    const std::vector<const record::Pair*> shown = ShownPairs();
    if (shown.empty()) return;
    Add("<section><h2>Pairs</h2><p>Each scan beside its frame: as the camera made it, and as delivered.</p>");
    for (const record::Pair* pair : shown)
      PairCard(*pair, shown.size() > kManyPairs ? kManyPairsPx : kPairPx);
    Add("</section>");
  }

  void Shot(PhotoId id, Version version, int px, const char* title, const std::string& detail) {
    const std::string image = Image(id, version, px, std::string(title) + ", " + index_.NameOf(id));
    Add(fmt::format(
        "<figure style='flex:{:.4f} 1 0'>{}<figcaption><b>{}</b>{}</figcaption></figure>", Aspect(id),
        image.empty() ? fmt::format("<div class=none style='aspect-ratio:{:.4f}'></div>", Aspect(id)) : image,
        title, detail));
  }

  void PairCard(const record::Pair& pair, int px) {
    // Widths in proportion to the pictures' shapes make all heights equal.
    const double shapes = Aspect(pair.scan) + 2 * Aspect(pair.frame);
    Add(fmt::format("<article class=pair><div class=shots><div style='--shapes:{:.4f}'>", shapes));
    const record::Photo& scan = *index_.Photo(pair.scan);
    const record::Photo& frame = *index_.Photo(pair.frame);
    const record::Roll* roll = index_.RollOf(scan);
    std::string place = NameSpan(pair.scan);
    if (roll != nullptr && roll->expired) place += ", expired film";
    if (roll != nullptr && !index_.NameOf(pair.scan).starts_with(roll->name + "/"))
      place += fmt::format(", <span class=name>{}</span>", Escape(roll->name));
    Shot(pair.scan, Version::kOriginal, px, "scan", place);
    Shot(pair.frame, Version::kOriginal, px, "frame as the camera made it",
         NameSpan(pair.frame) +
             (frame.encoding == record::Encoding::kRaw ? ", raw in a neutral rendering" : ""));
    const std::string output = index_.Output(pair.frame);
    Shot(pair.frame, Version::kDelivered, px, "frame delivered",
         fmt::format("<span class=name>{}</span>", Escape(output.empty() ? "not delivered" : output)));
    Add("</div></div>");
    Add(fmt::format("<div class=facts><div><h3>{}</h3>", NameSpan(pair.frame)));
    Add(fmt::format("<span>{}; {}</span>", Escape(WhereAndWhen(frame)), KindWords(pair)));
    Correction(pair.frame);
    Add("</div><div>");
    LeftOvers(pair.frame, pair.scan);
    Add("</div></div></article>");
  }

  std::string KindWords(const record::Pair& pair) const {
    std::string words = pair.kind == record::PairKind::kMoment ? "same moment" : "same light only";
    if (pair.by_person) return words + ", joined by hand";
    if (std::isfinite(pair.confidence))
      words += fmt::format(", {:.0f}\u00a0% sure", std::floor(100 * pair.confidence));
    if (index_.Barred(pair.scan)) words += ", kept out of the look";
    return words;
  }

  void Correction(PhotoId frame) {
    const record::FrameSolution* s = index_.Solution(frame);
    if (s == nullptr) return;
    Add("<dl>");
    const auto row = [&](const std::string& name, const std::string& value) {
      Add(fmt::format("<dt>{}<dd>{}", Escape(name), Escape(value)));
    };
    if (!s->look.empty()) row("look", s->look);
    record::Handles solved = s->shown;
    solved.hues = {};  // of the look: the same for the whole roll
    for (const HandleWord& h : HandleWords(solved)) row(h.name, h.value);
    for (const HandleWord& h : HandleWords(s->correction.touch)) row("touch: " + h.name, h.value);
    if (s->correction.follow < 1) row("follow", fmt::format("{:.0f}\u00a0%", 100 * s->correction.follow));
    if (s->correction.follow_skin < 1)
      row("follow, skin", fmt::format("{:.0f}\u00a0%", 100 * s->correction.follow_skin));
    Add("</dl>");
  }

  void LeftOvers(PhotoId frame, PhotoId scan) {
    const record::FrameSolution* s = index_.Solution(frame);
    if (s == nullptr || s->left_over.empty() || s->scan != scan) {
      Add("<p class=dim>No places of this scan and this frame show the same surfaces, so no left-over is "
          "given.</p>");
      return;
    }
    Add("<table class=marks><thead><tr><th scope=col>left-over<th scope=col class=bar><th scope=col "
        "class=num>before<th scope=col class=num>now<th scope=col class=num>nudge<th scope=col class=is>the "
        "frame is</thead><tbody>");
    for (const record::LeftOver& l : s->left_over)
      Add(
          fmt::format("<tr><th scope=row>{}<td class=bar>{}<td class=num>{}<td class=\"num now\">{}<td "
                      "class=num>{}<td class=is>{}",
                      RegionName(l), Bar(l.before, l.after), Figure(l.before), Figure(l.after),
                      l.nudge >= 0.05 ? Figure(l.nudge) : "",
                      DifferenceWord(l.region, l.lab_scan, l.lab_after, l.after)));
    Add("</tbody></table>");
  }

  // One picture of a strip; its name appears when pointed at and is read aloud.
  void StripShot(PhotoId id, Version version, const std::string& about, bool check) {
    const std::string image = Image(id, version, kStripPx, about);
    Add(fmt::format("<a title=\"{}\"{}>{}</a>", Escape(about), check ? " class=check" : "",
                    image.empty() ? fmt::format("<i>{}</i>", Escape(index_.NameOf(id))) : image));
  }

  std::string Perhaps(const record::Pair* pair) const {
    if (pair == nullptr || !record::IsUndecided(*pair)) return "";
    std::string words = ", perhaps with";
    for (std::size_t i = 0; i < pair->alternatives.size(); ++i)
      words += fmt::format("{} {} ({:.0f} %)", i > 0 ? " or" : "", index_.NameOf(pair->alternatives[i].frame),
                           100 * pair->alternatives[i].confidence);
    return words + ": to decide";
  }

  void Unpaired() {
    if (totals_.none == 0) return;
    Add(
        fmt::format("<section><h2>Scans without a frame</h2><p>No frame shows the moment or the light of {}, "
                    "or none surely "
                    "enough: then the pictures that come near are named when a scan is pointed at.</p>"
                    "<div class=strip style='margin-top:16px'>",
                    totals_.none == 1 ? "this scan" : "these scans"));
    for (const record::Photo& photo : report_.photos) {
      if (photo.role != record::Role::kScan) continue;
      const record::Pair* pair = index_.PairOfScan(photo.id);
      if (pair == nullptr || pair->kind == record::PairKind::kNone)
        StripShot(photo.id, Version::kOriginal, "scan " + index_.NameOf(photo.id) + Perhaps(pair),
                  pair != nullptr && record::IsUndecided(*pair));
    }
    Add("</div></section>");
  }

  void Lights() {
    if (report_.lights.empty()) return;
    Add("<section><h2>Lights</h2><p>The frames of each light as delivered, in the order in which they were "
        "taken. They "
        "should read as one. A white line under a picture: to check.</p>");
    for (const record::Light& light : report_.lights) {
      Add(fmt::format(
          "<article class=light><div class=head><h3><span class=name>{}</span></h3><span>{}</span></div>",
          Escape(light.name), LightWords(light)));
      if (!light.scans.empty()) {
        Add("<div class=strip><span>scans</span>");
        for (const PhotoId id : light.scans)
          if (index_.Photo(id) != nullptr)
            StripShot(id, Version::kOriginal, "scan " + index_.NameOf(id), false);
        Add("</div>");
      }
      Add("<div class=strip><span>frames</span>");
      for (const PhotoId id : light.frames) {
        if (index_.Photo(id) == nullptr) continue;
        const record::FrameSolution* s = index_.Solution(id);
        const bool check = s != nullptr && !s->flags.empty();
        StripShot(id, Version::kDelivered, "frame " + index_.NameOf(id) + (check ? ", to check" : ""), check);
      }
      Add("</div></article>");
    }
    Add("</section>");
  }

  // "5300 K, 12 frames, 3 scans, 13:24 to 14:28"
  std::string LightWords(const record::Light& light) const {
    std::string words;
    // Beyond these the correlated colour temperature means nothing to a person.
    if (light.mired >= 40 && light.mired <= 700)
      words += fmt::format("{:.0f}\u00a0K, ", std::round(1e6 / light.mired / 50) * 50);
    words += Count(static_cast<int>(light.frames.size()), "frame");
    if (light.scans.empty())
      words += ", no film";
    else
      words += ", " + Count(static_cast<int>(light.scans.size()), "scan");
    std::vector<std::int64_t> times;
    for (const PhotoId id : light.frames)
      if (const record::Photo* photo = index_.Photo(id); photo != nullptr)
        if (const std::optional<std::int64_t> time_us = index_.TimeUs(*photo); time_us.has_value())
          times.push_back(*time_us);
    if (!times.empty()) {
      const auto [first, last] = std::minmax_element(times.begin(), times.end());
      words += ", " + ClockTime(*first);
      if (ClockTime(*first) != ClockTime(*last)) words += " to " + ClockTime(*last);
    }
    return words;
  }

  void Notes() {
    std::vector<std::string> notes = report_.notes;
    for (const Clock& c : report_.clocks)
      if (std::isfinite(c.offset_s) && std::abs(c.offset_s) >= 0.5)
        notes.push_back(fmt::format("The clock of {} is taken as {:.0f} s {} the first body's.", c.body,
                                    std::abs(c.offset_s), c.offset_s > 0 ? "behind" : "ahead of"));
    for (const record::Light& light : report_.lights)
      for (const Report::SkinSpread& s : report_.skin_spread)
        if (s.light == light.id)
          notes.push_back(fmt::format(
              "Skin in {}, over {}: L* varies by {}, a* by {}, b* by {} (standard deviation).", light.name,
              Count(s.frames, "frame"), Figure(s.sigma[0]), Figure(s.sigma[1]), Figure(s.sigma[2])));
    if (notes.empty()) return;
    Add("<section><h2>Notes</h2><ul class=notes>");
    for (const std::string& note : notes) Add(fmt::format("<li>{}</li>", Escape(note)));
    Add("</ul></section>");
  }

  void Foot() {
    Add("<footer><p>Left-overs are differences between the middle colours of matched places, CIEDE2000, "
        "after blurring "
        "away the grain. Before: a camera JPEG as it is, camera raw in a neutral rendering. Nudge: how much "
        "of "
        "the difference is what the lab did to that scan alone; a frame is judged by what its light\u2019s "
        "film "
        "shows without it. To read them:</p>");
    for (const Threshold& t : Thresholds())
      Add(fmt::format("<p>{} (\u0394E*ab): {}. {}.</p>", Figure(t.value), Escape(t.text), Escape(t.source)));
    if (totals_.film_to_film_rolls > 0)
      Add(fmt::format(
          "<p>{} (CIEDE2000): film-to-film difference inside a roll, between any two of its scans by the "
          "lab\u2019s own nudges, over {}. What is nearer than that, the film itself leaves open.</p>",
          Figure(totals_.film_to_film), Count(totals_.film_to_film_rolls, "roll")));
    Add(fmt::format("<p>samelight {}</p></footer></body></html>\n", Escape(report_.version)));
  }

  const Report& report_;
  const Thumbnail& thumbnail_;
  Index index_;
  Totals totals_;
  double scale_ = 8;  // CIEDE2000 at the end of a bar
  std::string text_;
};

}  // namespace

std::string HtmlText(const Report& report, const Thumbnail& thumbnail) {
  return Page(report, thumbnail).Text();
}

Status WriteHtml(const std::filesystem::path& path, const Report& report, const Thumbnail& thumbnail) {
  return WriteFileWhole(path, HtmlText(report, thumbnail));
}

}  // namespace samelight::report
