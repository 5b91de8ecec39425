#include "bench/table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace samelight::bench {
namespace {

struct Column {
  const char* group;
  const char* name;
  double (*value)(const Row&);
  double needed, aim;  // of the project; kNone: not set
  bool compared;       // with the best baseline
};

template <Group kGroup>
const GroupScore& Of(const Row& row) {
  return row.score.group[static_cast<int>(kGroup)];
}

constexpr double kPercent = 100;

const Column kColumns[] = {
    {"raw, light with film", "mean", [](const Row& r) { return Of<Group::kFilm>(r).mean; }, 2.6, 2.0, true},
    {"", "skin", [](const Row& r) { return Of<Group::kFilm>(r).skin; }, 2.5, 1.8, true},
    {"", "95%", [](const Row& r) { return Of<Group::kFilm>(r).p95; }, 5.0, 3.8, true},
    {"", "even", [](const Row& r) { return Of<Group::kFilm>(r).spread; }, 1.5, 1.0, true},
    {"", "sk a*", [](const Row& r) { return Of<Group::kFilm>(r).skin_a; }, 0.8, kNone, false},
    {"", "sk b*", [](const Row& r) { return Of<Group::kFilm>(r).skin_b; }, 0.8, kNone, false},
    {"raw, no film", "mean", [](const Row& r) { return Of<Group::kNoFilm>(r).mean; }, 4.0, 3.0, true},
    {"", "95%", [](const Row& r) { return Of<Group::kNoFilm>(r).p95; }, kNone, kNone, false},
    {"camera JPEG", "film", [](const Row& r) { return Of<Group::kJpegFilm>(r).mean; }, 3.2, 2.3, true},
    {"", "none", [](const Row& r) { return Of<Group::kJpegNoFilm>(r).mean; }, kNone, kNone, false},
    {"all frames", "mean", [](const Row& r) { return r.score.all.mean; }, kNone, kNone, false},
    {"", "even", [](const Row& r) { return r.score.all.spread; }, kNone, kNone, false},
    {"", "worse%", [](const Row& r) { return r.score.worse_share * kPercent; }, 1, kNone, false},
    {"", "by", [](const Row& r) { return r.score.worst_excess; }, 0.5, kNone, false},
    {"", "flag%", [](const Row& r) { return r.flagged * kPercent; }, kNone, kNone, false},
};
constexpr int kNameWidth = 42, kWidth = 7;

std::string Cell(double value) {
  if (std::isnan(value)) return fmt::format("{:>{}}", "-", kWidth);
  return fmt::format("{:>{}.2f}", value, kWidth);
}

std::string Line(const std::string& name, const std::vector<double>& values) {
  std::string line = fmt::format("{:<{}}", name, kNameWidth);
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (kColumns[i].group[0]) line += " |";
    line += Cell(values[i]);
  }
  return line + "\n";
}

std::string HeadLines() {
  std::string groups(kNameWidth, ' '), names(kNameWidth, ' ');
  std::size_t at = 0;
  const std::size_t count = std::size(kColumns);
  while (at < count) {
    std::size_t end = at + 1;
    while (end < count && !kColumns[end].group[0]) ++end;
    groups += fmt::format(" | {:<{}}", kColumns[at].group, (end - at) * kWidth - 1);
    names += " |";
    for (; at < end; ++at) names += fmt::format("{:>{}}", kColumns[at].name, kWidth);
  }
  return groups + "\n" + names + "\n";
}

struct MedianRow {
  std::string name;
  Row::Kind kind;
  std::vector<double> values;
};

// One entry per name, in the order of first appearance; medians over sessions.
std::vector<MedianRow> MedianRows(const std::vector<SessionTable>& sessions) {
  std::vector<MedianRow> out;
  for (const SessionTable& session : sessions)
    for (const Row& row : session.rows) {
      if (std::any_of(out.begin(), out.end(), [&](const MedianRow& m) { return m.name == row.name; }))
        continue;
      MedianRow median{row.name, row.kind, {}};
      for (const Column& column : kColumns) {
        std::vector<double> values;
        for (const SessionTable& s : sessions)
          for (const Row& r : s.rows)
            if (r.name == row.name) values.push_back(column.value(r));
        median.values.push_back(Median(values));
      }
      out.push_back(std::move(median));
    }
  return out;
}

// How far the rows of ours are below the best baseline, in percent of it.
std::vector<MedianRow> AgainstBaselines(const std::vector<MedianRow>& rows) {
  std::vector<double> best(std::size(kColumns), kNone);
  bool any = false;
  for (const MedianRow& row : rows)
    if (row.kind == Row::Kind::kBaseline) {
      any = true;
      for (std::size_t i = 0; i < best.size(); ++i)
        if (kColumns[i].compared && !(row.values[i] >= best[i])) best[i] = row.values[i];
    }
  std::vector<MedianRow> out;
  if (!any) return out;
  out.push_back({"best baseline", Row::Kind::kBaseline, best});
  for (const MedianRow& row : rows)
    if (row.kind == Row::Kind::kOurs) {
      MedianRow below{"% below it: " + row.name, row.kind, {}};
      for (std::size_t i = 0; i < best.size(); ++i)
        below.values.push_back(kPercent * (1 - row.values[i] / best[i]));
      out.push_back(std::move(below));
    }
  return out;
}

std::string Block(const std::string& title, const std::vector<MedianRow>& rows) {
  std::string text = title + "\n" + HeadLines();
  for (const MedianRow& row : rows) text += Line(row.name, row.values);
  for (const MedianRow& row : AgainstBaselines(rows)) text += Line(row.name, row.values);
  std::vector<double> needed, aim;
  for (const Column& c : kColumns) {
    needed.push_back(c.needed);
    aim.push_back(c.aim);
  }
  return text + Line("needed (at most)", needed) + Line("aim", aim);
}

std::string Facts(const SessionTable& s) {
  int count[4] = {};
  for (const FrameFact& f : s.facts) ++count[static_cast<int>(f.group)];
  std::string text =
      fmt::format("frames: {} raw and {} JPEG in lights with film, {} and {} in lights without\n", count[0],
                  count[2], count[1], count[3]);
  text += fmt::format(
      "the lab's own nudges put scans {:.2f} from truth (median; {:.2f} by the simulator, before grain)\n",
      s.nudge_median, s.nudge_simulator);
  if (s.has_pairs)
    text += fmt::format(
        "pairs: {} of {} same-moment scans found, {} in the right light, {} wrong ({} of them sure)\n",
        s.pairs.moment_found, s.pairs.moment_true, s.pairs.light_right, s.pairs.wrong,
        s.pairs.sure_and_wrong);
  if (!s.skin_labelled) text += "skin: the truth labels none, so there are no skin columns\n";
  if (!std::isnan(s.solve_seconds)) text += fmt::format("solve: {:.1f} s\n", s.solve_seconds);
  for (const std::string& note : s.notes) text += "note: " + note + "\n";
  return text;
}

const Row* RowNamed(const SessionTable& s, const std::string& name) {
  for (const Row& r : s.rows)
    if (r.name == name && !r.frames.empty()) return &r;
  return nullptr;
}

// Which step made a frame worse than untouched, and whether the program asked for a look at it.
std::string WhyWorse(const SessionTable& s, std::size_t frame) {
  const Row *untouched = RowNamed(s, "untouched"), *light = RowNamed(s, kLightFromTruth),
            *own = RowNamed(s, kFrameFromTruth);
  const auto helps = [&](const Row* row) {
    return row && untouched && row->frames[frame].mean < untouched->frames[frame].mean;
  };
  std::string why = helps(light) ? "level and colour of its light were misjudged"
                    : helps(own) ? "its own exposure or white was misjudged"
                                 : "the look does not do justice to what it shows";
  why = fmt::format("{}; {}", Name(s.facts[frame].group), why);
  if (frame < s.told.size()) why += s.told[frame].empty() ? "; not flagged" : "; flagged: " + s.told[frame];
  return why;
}

std::string WorstFrames(const SessionTable& s, int count) {
  const Row* row = nullptr;
  for (const Row& r : s.rows)
    if (r.kind == Row::Kind::kOurs && !r.frames.empty() && (!row || row->name != "delivered")) row = &r;
  std::string text;
  if (!row) return text;
  for (const Worse& w : row->score.worse) {
    const auto fact =
        std::find_if(s.facts.begin(), s.facts.end(), [&](const FrameFact& f) { return f.name == w.name; });
    text += fmt::format("worse than untouched ({}): {} by {:.2f}: {}\n", row->name, w.name, w.excess,
                        WhyWorse(s, static_cast<std::size_t>(fact - s.facts.begin())));
  }
  if (count <= 0) return text;
  std::vector<std::size_t> order(row->frames.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return row->frames[a].mean > row->frames[b].mean; });
  text += fmt::format("largest errors ({}):\n", row->name);
  for (std::size_t k = 0; k < order.size() && k < static_cast<std::size_t>(count); ++k) {
    const FrameScore& f = row->frames[order[k]];
    const FrameFact& fact = s.facts[order[k]];
    text += fmt::format(
        "  {:<34} light {}  {:<32} mean {:5.2f}  95% {:5.2f}  L* {:+6.2f} a* {:+6.2f} b* {:+6.2f}\n",
        fact.name, fact.light, Name(fact.group), f.mean, f.p95, f.bias[0], f.bias[1], f.bias[2]);
  }
  return text;
}

using nlohmann::json;

json Number(double v) { return std::isnan(v) ? json() : json(v); }

json JsonOf(const GroupScore& g) {
  return {{"frames", g.frames},         {"mean", Number(g.mean)},
          {"p95", Number(g.p95)},       {"skin", Number(g.skin)},
          {"spread", Number(g.spread)}, {"spread_of_mean", Number(g.spread_of_mean)},
          {"skin_a", Number(g.skin_a)}, {"skin_b", Number(g.skin_b)}};
}

json JsonOf(const Row& row, const std::vector<FrameFact>& facts) {
  json j{{"name", row.name},
         {"all", JsonOf(row.score.all)},
         {"worse_share", Number(row.score.worse_share)},
         {"worst_excess", Number(row.score.worst_excess)},
         {"missing", row.score.missing},
         {"flagged", Number(row.flagged)}};
  for (Group group : kGroups) j["groups"][Name(group)] = JsonOf(row.score.group[static_cast<int>(group)]);
  j["worse"] = json::array();
  for (const Worse& w : row.score.worse) j["worse"].push_back({{"frame", w.name}, {"excess", w.excess}});
  j["frames"] = json::array();
  for (std::size_t i = 0; i < row.frames.size(); ++i) {
    const FrameScore& f = row.frames[i];
    if (!f.there) continue;
    j["frames"].push_back({{"frame", facts[i].name},
                           {"light", facts[i].light},
                           {"group", Name(facts[i].group)},
                           {"mean", f.mean},
                           {"p95", f.p95},
                           {"bias", f.bias},
                           {"skin", Number(f.skin)},
                           {"skin_bias", f.skin_bias}});
  }
  return j;
}

}  // namespace

std::string TextOf(const std::vector<SessionTable>& sessions, bool each, int worst) {
  std::string text =
      "CIEDE2000 against truth at 400 px, medians over frames; 95%: of a frame's pixels; even: spread of the "
      "frames' mean\n"
      "CIELAB error inside a light; sk a*, sk b*: the same of skin; worse%, by: frames worse than untouched, "
      "and by how much\n";
  if (each || sessions.size() == 1)
    for (const SessionTable& s : sessions) {
      text += "\n" + Block(s.name, MedianRows({s})) + Facts(s) + WorstFrames(s, worst);
    }
  if (sessions.size() > 1)
    text += "\n" + Block(fmt::format("median over {} sessions", sessions.size()), MedianRows(sessions));
  return text;
}

std::string JsonOf(const std::vector<SessionTable>& sessions) {
  json all;
  all["version"] = 1;
  all["sessions"] = json::array();
  for (const SessionTable& s : sessions) {
    json j{{"name", s.name},
           {"nudge_median", Number(s.nudge_median)},
           {"nudge_simulator", Number(s.nudge_simulator)},
           {"skin_labelled", s.skin_labelled},
           {"solve_seconds", Number(s.solve_seconds)},
           {"notes", s.notes}};
    if (s.has_pairs)
      j["pairs"] = {{"moment_true", s.pairs.moment_true},
                    {"moment_found", s.pairs.moment_found},
                    {"light_right", s.pairs.light_right},
                    {"wrong", s.pairs.wrong},
                    {"sure_and_wrong", s.pairs.sure_and_wrong}};
    j["rows"] = json::array();
    for (const Row& row : s.rows) j["rows"].push_back(JsonOf(row, s.facts));
    all["sessions"].push_back(std::move(j));
  }
  all["medians"] = json::array();
  for (const MedianRow& row : MedianRows(sessions)) {
    json j{{"name", row.name}};
    for (std::size_t i = 0; i < row.values.size(); ++i) {
      std::size_t group = i;
      while (!kColumns[group].group[0]) --group;
      j[fmt::format("{}: {}", kColumns[group].group, kColumns[i].name)] = Number(row.values[i]);
    }
    all["medians"].push_back(std::move(j));
  }
  return all.dump(1) + "\n";
}

}  // namespace samelight::bench
