#include "exchange/look_file.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

namespace samelight::exchange {
namespace {

using Json = nlohmann::ordered_json;
using record::Belief;
using record::BeliefNumber;

constexpr const char* kFormat = "samelight look";
constexpr int kVersion = 1;
constexpr std::size_t kMostText = 200;    // bytes of a name
constexpr std::size_t kMostCurve = 4096;  // points of a grain curve

// Nine digits keep a correlation positive definite; no number is known to as many.
double Rounded(double value) { return std::strtod(fmt::format("{:.9g}", value).c_str(), nullptr); }

template <class Numbers>
Json JsonOf(const Belief& belief, const Numbers& numbers) {
  Json values = Json::object(), correlation = Json::array();
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    const int row = static_cast<int>(i);
    values[numbers[i].name] = {Rounded(belief.mean[i]), Rounded(belief.Sigma(row))};
    if (i == 0) continue;
    Json line = Json::array();
    for (int k = 0; k < row; ++k)
      line.push_back(Rounded(belief.Covariance(row, k) / (belief.Sigma(row) * belief.Sigma(k))));
    correlation.push_back(std::move(line));
  }
  return {{"numbers", std::move(values)}, {"correlation", std::move(correlation)}};
}

Json JsonOf(const std::vector<double>& list) {
  Json out = Json::array();
  for (const double v : list) out.push_back(Rounded(v));
  return out;
}

Json JsonOf(const record::GrainModel& grain) {
  return {{"density", JsonOf(grain.density)},
          {"sigma", {JsonOf(grain.sigma[0]), JsonOf(grain.sigma[1]), JsonOf(grain.sigma[2])}},
          {"per_mm", JsonOf(grain.per_mm)},
          {"power", JsonOf(grain.power)},
          {"correlation", {Rounded(grain.red_green), Rounded(grain.green_blue), Rounded(grain.red_blue)}},
          {"pitch_um", Rounded(grain.pitch_um)},
          {"film_long_side_mm", Rounded(grain.film_long_side_mm)},
          {"patches", grain.patches}};
}

Json JsonOf(const record::Lesson& lesson) {
  return {{"session", lesson.session},
          {"source", lesson.source},
          {"rolls", lesson.rolls},
          {"scans", lesson.scans},
          {"lights", lesson.lights},
          {"frames", lesson.frames},
          {"level_sigma", Rounded(lesson.level_sigma)},
          {"colour_sigma", Rounded(lesson.colour_sigma)},
          {"look", JsonOf(lesson.look, record::LookNumbers())},
          {"rule", JsonOf(lesson.rule, record::RuleNumbers())}};
}

// Takes a text apart; after the first fault everything comes back empty and the fault is kept.
class Reader {
 public:
  explicit Reader(std::string file) : file_(std::move(file)) {}

  record::LearnedLook Read(const Json& top) {
    record::LearnedLook look;
    look.name = Text(top, "name");
    if (look.name.empty()) Fail("name is empty");
    look.stock = Text(top, "stock");
    look.lab = Text(top, "lab");
    look.source = Text(top, "source");
    look.look = ReadBelief(Entry(top, "look"), "look", record::LookNumbers());
    look.rule = ReadBelief(Entry(top, "rule"), "rule", record::RuleNumbers());
    look.look_between = Number(top, "look_between", 0, 10);
    look.rule_between = Number(top, "rule_between", 0, 10);
    look.level_sigma = Number(top, "level_sigma", 1e-4, 2);
    look.colour_sigma = Number(top, "colour_sigma", 1e-4, 2);
    if (top.is_object() && top.contains("grain")) look.grain = ReadGrain(top["grain"]);
    const Json& lessons = Array(top, "lessons", 1, kMostLessons);
    for (std::size_t i = 0; i < lessons.size() && !failed(); ++i)
      look.lessons.push_back(ReadLesson(lessons[i]));
    return look;
  }

  void Fail(const std::string& why) {
    if (!failed())
      error_ = {ErrorCode::kDamaged, "the look cannot be used: " + why, file_,
                "learn it again from its sessions"};
  }
  bool failed() const { return !error_.what.empty(); }
  const Error& error() const { return error_; }

 private:
  const Json& Entry(const Json& in, const std::string& key) {
    static const Json none;
    if (in.is_object())
      if (const auto it = in.find(key); it != in.end()) return *it;
    Fail(key + " is missing");
    return none;
  }

  const Json& Array(const Json& in, const std::string& key, std::size_t least, std::size_t most) {
    static const Json none = Json::array();
    const Json& entry = Entry(in, key);
    if (!entry.is_array() || entry.size() < least || entry.size() > most) {
      Fail(fmt::format("{} is not a list of {} to {} entries", key, least, most));
      return none;
    }
    return entry;
  }

  double Checked(const Json& entry, const std::string& name, double least, double most) {
    if (!entry.is_number()) {
      Fail(name + " is not a number");
      return least;
    }
    const double value = entry.get<double>();
    if (!(value >= least && value <= most)) {
      Fail(fmt::format("{} is {}, but goes from {:g} to {:g}", name, value, least, most));
      return least;
    }
    return value;
  }

  double Number(const Json& in, const std::string& key, double least, double most) {
    return Checked(Entry(in, key), key, least, most);
  }

  int Count(const Json& in, const std::string& key, int least, int most) {
    const Json& entry = Entry(in, key);
    if (!entry.is_number_integer()) Fail(key + " is not a whole number");
    return static_cast<int>(Checked(entry, key, least, most));
  }

  std::string CheckedText(const Json& entry, const std::string& name) {
    if (!entry.is_string()) {
      Fail(name + " is not a text");
      return {};
    }
    std::string text = entry.get<std::string>();
    const bool plain = std::none_of(text.begin(), text.end(),
                                    [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
    if (plain && text.size() <= kMostText) return text;
    Fail(fmt::format("{} holds control characters or more than {} bytes", name, kMostText));
    return {};
  }

  std::string Text(const Json& in, const std::string& key) { return CheckedText(Entry(in, key), key); }

  std::vector<double> Curve(const Json& list, const std::string& name, double least, double most) {
    std::vector<double> out;
    if (!list.is_array() || list.size() > kMostCurve) {
      Fail(fmt::format("{} is not a list of at most {} numbers", name, kMostCurve));
      return out;
    }
    for (std::size_t i = 0; i < list.size() && !failed(); ++i)
      out.push_back(Checked(list[i], name, least, most));
    return out;
  }

  template <class Numbers>
  Belief ReadBelief(const Json& in, const std::string& what, const Numbers& numbers) {
    const std::size_t n = numbers.size();
    Belief belief;
    const Json& values = Entry(in, "numbers");
    const Json& rows = Array(in, "correlation", n - 1, n - 1);
    if (failed()) return {};
    Eigen::MatrixXd covariance(n, n);
    std::vector<double> sigma;
    for (const BeliefNumber& number : numbers) {
      const Json& pair = Array(values, number.name, 2, 2);
      if (failed()) return {};
      belief.mean.push_back(Checked(pair[0], number.name, number.least, number.most));
      sigma.push_back(Checked(pair[1], "the spread of " + number.name, 1e-6, number.widest));
    }
    for (std::size_t i = 0; i < n; ++i) {
      covariance(i, i) = sigma[i] * sigma[i];
      if (i == 0) continue;
      const std::vector<double> row = Curve(rows[i - 1], what + " correlation", -1, 1);
      if (row.size() != i) Fail(fmt::format("row {} of the {} correlation has not {} numbers", i, what, i));
      if (failed()) return {};
      for (std::size_t k = 0; k < i; ++k) covariance(i, k) = covariance(k, i) = row[k] * sigma[i] * sigma[k];
    }
    const Eigen::VectorXd scale = covariance.diagonal().cwiseSqrt().cwiseInverse();
    const Eigen::LLT<Eigen::MatrixXd> root(scale.asDiagonal() * covariance * scale.asDiagonal());
    if (root.info() != Eigen::Success) Fail(what + " correlation is not positive definite");
    for (std::size_t i = 0; i < n; ++i)
      for (std::size_t k = 0; k <= i; ++k) belief.covariance.push_back(covariance(i, k));
    return belief;
  }

  record::GrainModel ReadGrain(const Json& in) {
    record::GrainModel grain;
    grain.density = Curve(Entry(in, "density"), "grain density", -1, 6);
    const Json& sigma = Array(in, "sigma", 3, 3);
    if (failed()) return {};
    for (int c = 0; c < 3; ++c) grain.sigma[c] = Curve(sigma[c], "grain sigma", 0, 2);
    grain.per_mm = Curve(Entry(in, "per_mm"), "grain per_mm", 0, 1e4);
    grain.power = Curve(Entry(in, "power"), "grain power", 0, 1e6);
    const Json& correlation = Array(in, "correlation", 3, 3);
    if (failed()) return {};
    grain.red_green = Checked(correlation[0], "grain correlation", -1, 1);
    grain.green_blue = Checked(correlation[1], "grain correlation", -1, 1);
    grain.red_blue = Checked(correlation[2], "grain correlation", -1, 1);
    grain.pitch_um = Number(in, "pitch_um", 0.1, 1000);
    grain.film_long_side_mm = Number(in, "film_long_side_mm", 1, 1000);
    grain.patches = Count(in, "patches", 1, 1 << 30);
    const auto ascends = [](const std::vector<double>& list, std::size_t least) {
      return list.size() >= least &&
             std::adjacent_find(list.begin(), list.end(), std::greater_equal<>()) == list.end();
    };
    // Few flat places may all have been of one density.
    if (!ascends(grain.density, 1) || !ascends(grain.per_mm, 2) || grain.power.size() != grain.per_mm.size() ||
        std::any_of(grain.sigma.begin(), grain.sigma.end(),
                    [&](const auto& s) { return s.size() != grain.density.size(); }))
      Fail("the curves of the grain do not fit together");
    return grain;
  }

  record::Lesson ReadLesson(const Json& in) {
    record::Lesson lesson;
    lesson.session = Text(in, "session");
    lesson.source = Text(in, "source");
    const Json& rolls = Array(in, "rolls", 0, 1000);
    for (std::size_t i = 0; i < rolls.size() && !failed(); ++i)
      lesson.rolls.push_back(CheckedText(rolls[i], "rolls"));
    lesson.scans = Count(in, "scans", 1, 1 << 20);
    lesson.lights = Count(in, "lights", 1, 1 << 20);
    lesson.frames = Count(in, "frames", 1, 1 << 24);
    lesson.level_sigma = Number(in, "level_sigma", 1e-4, 2);
    lesson.colour_sigma = Number(in, "colour_sigma", 1e-4, 2);
    lesson.look = ReadBelief(Entry(in, "look"), "look", record::LookNumbers());
    lesson.rule = ReadBelief(Entry(in, "rule"), "rule", record::RuleNumbers());
    return lesson;
  }

  std::string file_;
  Error error_;
};

}  // namespace

std::string LookText(const record::LearnedLook& look) {
  Json top = {{"format", kFormat},
              {"version", kVersion},
              {"name", look.name},
              {"stock", look.stock},
              {"lab", look.lab},
              {"source", look.source},
              {"look_between", Rounded(look.look_between)},
              {"rule_between", Rounded(look.rule_between)},
              {"level_sigma", Rounded(look.level_sigma)},
              {"colour_sigma", Rounded(look.colour_sigma)},
              {"look", JsonOf(look.look, record::LookNumbers())},
              {"rule", JsonOf(look.rule, record::RuleNumbers())}};
  if (look.grain.patches > 0) top["grain"] = JsonOf(look.grain);
  top["lessons"] = Json::array();
  for (const record::Lesson& lesson : look.lessons) top["lessons"].push_back(JsonOf(lesson));
  // Bytes of names that are not UTF-8 are replaced.
  return top.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Result<record::LearnedLook> ReadLook(std::string_view text, const std::string& file) {
  if (text.size() > kMostLookBytes)
    return Error{ErrorCode::kTooLarge, "the file is too large for a look", file, "check that it is one"};
  const Json top = Json::parse(text.begin(), text.end(), nullptr, false);
  if (!top.is_object() || !top.contains("format") || top["format"] != kFormat)
    return Error{ErrorCode::kDamaged, "the file is not a look, or ends early", file,
                 "name a file that `samelight look learn` wrote"};
  const Json version = top.value("version", Json());
  if (!version.is_number_integer() || version.get<std::int64_t>() != kVersion)
    return Error{
        ErrorCode::kNewerSchema,
        fmt::format("the look is of version {}, and only version {} is known",
                    version.is_number_integer() ? std::to_string(version.get<std::int64_t>()) : "unknown",
                    kVersion),
        file, "use the version of the program that wrote it"};
  Reader reader(file);
  record::LearnedLook look = reader.Read(top);
  if (reader.failed()) return reader.error();
  return look;
}

}  // namespace samelight::exchange
