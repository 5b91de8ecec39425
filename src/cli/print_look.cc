// Looks that last, in words and in JSON.
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "cli/print.h"
#include "cli/print_json.h"

namespace samelight::cli {
namespace {

using Object = nlohmann::ordered_json;

struct Rests {
  int scans = 0, lights = 0, frames = 0;
};
Rests RestsOf(const record::LearnedLook& look) {
  Rests rests;
  for (const record::Lesson& lesson : look.lessons) {
    rests.scans += lesson.scans;
    rests.lights += lesson.lights;
    rests.frames += lesson.frames;
  }
  return rests;
}

std::string OrUnknown(const std::string& text) { return text.empty() ? "not known" : text; }

template <class Numbers>
void PrintNumbers(const record::Belief& belief, const Numbers& numbers) {
  for (std::size_t i = 0; i < numbers.size(); ++i)
    fmt::print(stdout, "  {:<24} {:9.4f}  +- {:.4f}\n", numbers[i].name, belief.mean[i],
               belief.Sigma(static_cast<int>(i)));
}

void Whole(const record::LearnedLook& look) {
  fmt::print(stdout, "  stock: {}\n  lab: {}\n  source: {}\n", OrUnknown(look.stock), OrUnknown(look.lab),
             look.source.empty() ? "several" : look.source);
  for (const record::Lesson& lesson : look.lessons)
    fmt::print(stdout, "  from {}: {} scans, {} lights, {} frames; {}\n", lesson.session, lesson.scans,
               lesson.lights, lesson.frames, lesson.source);
  fmt::print(stdout, "  the look, with one standard deviation from session to session:\n");
  PrintNumbers(look.look, record::LookNumbers());
  fmt::print(stdout, "  the rule for lights without film:\n");
  PrintNumbers(look.rule, record::RuleNumbers());
  fmt::print(stdout, "  it tells a light's exposure to {:.2f} EV and its colour to {:.3f} (log10)\n",
             look.level_sigma / std::log10(2.0), look.colour_sigma);
  fmt::print(stdout,
             "  spread between sessions: {:.2f} of what is built in for the look, {:.2f} for the rule{}\n",
             look.look_between, look.rule_between,
             look.lessons.size() < 2 ? " (one session cannot tell: assumed)" : "");
  if (look.grain.patches > 0)
    fmt::print(stdout, "  grain: measured on {} flat places\n", look.grain.patches);
  else
    fmt::print(stdout, "  grain: not measured\n");
}

template <class Numbers>
Object BeliefJson(const record::Belief& belief, const Numbers& numbers) {
  Object out = Object::object();
  for (std::size_t i = 0; i < numbers.size(); ++i)
    out[numbers[i].name] = {{"value", belief.mean[i]}, {"sigma", belief.Sigma(static_cast<int>(i))}};
  return out;
}

Object LookJson(const record::LearnedLook& look, bool whole) {
  const Rests rests = RestsOf(look);
  Object out = {{"name", look.name},
                {"stock", look.stock.empty() ? Object() : Object(look.stock)},
                {"lab", look.lab.empty() ? Object() : Object(look.lab)},
                {"source", look.source.empty() ? Object() : Object(look.source)},
                {"sessions", look.lessons.size()},
                {"scans", rests.scans},
                {"lights", rests.lights},
                {"frames", rests.frames},
                {"grain", look.grain.patches > 0}};
  if (!whole) return out;
  out["look_between"] = look.look_between;
  out["rule_between"] = look.rule_between;
  out["level_sigma"] = look.level_sigma;
  out["colour_sigma"] = look.colour_sigma;
  out["look"] = BeliefJson(look.look, record::LookNumbers());
  out["rule"] = BeliefJson(look.rule, record::RuleNumbers());
  out["lessons"] = Object::array();
  for (const record::Lesson& lesson : look.lessons)
    out["lessons"].push_back({{"session", lesson.session},
                              {"source", lesson.source},
                              {"rolls", lesson.rolls},
                              {"scans", lesson.scans},
                              {"lights", lesson.lights},
                              {"frames", lesson.frames}});
  return out;
}

std::string Text(const Object& object) {
  return object.dump(2, ' ', false, Object::error_handler_t::replace) + "\n";
}

}  // namespace

std::string Json(const job::LookAnswer& answer, bool whole) {
  Object looks = Object::array(), files = Object::array(), problems = Object::array();
  for (const record::LearnedLook& look : answer.looks) looks.push_back(LookJson(look, whole));
  for (const job::fs::path& file : answer.files) files.push_back(file.string());
  for (const job::Problem& p : answer.problems)
    problems.push_back({{"file", p.file},
                        {"what", p.what},
                        {"why", p.why},
                        {"todo", p.todo},
                        {"code", ErrorCodeName(p.code)}});
  return Text({{"folder", answer.folder.string()},
               {"looks", looks},
               {"files", files},
               {"notes", answer.notes},
               {"problems", problems}});
}

std::string Json(const job::LookExportAnswer& a) {
  return Text(
      {{"file", a.file.string()}, {"kind", a.kind}, {"nodes", a.nodes}, {"mean", a.mean}, {"most", a.most}});
}

void Print(const job::LookAnswer& answer, bool whole, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(answer, whole));
  for (const record::LearnedLook& look : answer.looks) {
    const Rests rests = RestsOf(look);
    fmt::print(stdout, "{}: {} session{}, {} scans, {} lights, {} frames\n", look.name, look.lessons.size(),
               look.lessons.size() == 1 ? "" : "s", rests.scans, rests.lights, rests.frames);
    if (whole) Whole(look);
  }
  if (answer.looks.empty() && answer.problems.empty())
    fmt::print(stdout, "no look is kept in {}\n", answer.folder.string());
  for (const job::fs::path& file : answer.files) fmt::print(stdout, "written: {}\n", file.string());
  for (const std::string& note : answer.notes) fmt::print(stdout, "note: {}\n", note);
  for (const job::Problem& p : answer.problems)
    fmt::print(stderr, "{}: {}: {}{}\n", p.what, p.file, p.why, p.todo.empty() ? "" : " (" + p.todo + ")");
}

void Print(const job::LookExportAnswer& a, As as) {
  if (as == As::kJson) return fmt::print(stdout, "{}", Json(a));
  fmt::print(
      stdout,
      "{}: {}, {} nodes along each axis; from the exact look {:.2f} on average, {:.2f} at most (CIEDE2000)\n",
      a.file.string(), a.kind, a.nodes, a.mean, a.most);
}

}  // namespace samelight::cli
