#include "job/rolls.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <map>
#include <set>

namespace samelight::job {
namespace {

using record::Measured;
using record::Photo;

// Numbers of rolls that were cut from another one: this plus the number of their first scan.
constexpr std::int64_t kPart = std::int64_t{1} << 40;
constexpr std::size_t kLeast = 3;                 // scans on each side of a change
constexpr double kShape = 0.04;                   // of the logarithm of the sides' ratio
constexpr double kGrain = 0.3, kGrainChance = 4;  // of the logarithm; standard errors

const std::string kSplit = "split:", kJoin = "join:";

template <class Id>
std::vector<Id> IdsOf(const session::Standing& standing, RollId roll, const std::string& prefix) {
  std::vector<Id> ids;
  for (auto it = standing.roll_facts.lower_bound({roll, prefix});
       it != standing.roll_facts.end() && it->first.first == roll && it->first.second.starts_with(prefix);
       ++it) {
    Id id;
    const std::string& key = it->first.second;
    const auto [end, code] = std::from_chars(key.data() + prefix.size(), key.data() + key.size(), id.value);
    if (code == std::errc() && it->second == "yes") ids.push_back(id);
  }
  return ids;
}

double Shape(const Photo& photo) {
  if (photo.width_px <= 0 || photo.height_px <= 0) return 0;
  return std::abs(std::log(static_cast<double>(photo.width_px) / photo.height_px));
}

double Median(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<long>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// How far two sets lie apart, in standard errors of their medians, and by how much.
std::pair<double, double> Apart(const std::vector<double>& a, const std::vector<double>& b) {
  const auto variance = [](const std::vector<double>& v, double middle) {
    std::vector<double> away;
    for (double x : v) away.push_back(std::abs(x - middle));
    const double spread = 1.4826 * Median(away) + 0.05;
    return 1.57 * spread * spread / static_cast<double>(v.size());  // of a median of normal values
  };
  const double ma = Median(a), mb = Median(b);
  return {std::abs(ma - mb) / std::sqrt(variance(a, ma) + variance(b, mb)), std::abs(ma - mb)};
}

// The best place in [first, last) where `value` changes, or `last`.
template <class Better>
std::size_t BestChange(std::size_t first, std::size_t last, const Better& worth) {
  std::size_t best = last;
  double most = 0;
  for (std::size_t at = first + kLeast; at + kLeast <= last; ++at)
    if (const double w = worth(at); w > most) {
      most = w;
      best = at;
    }
  return best;
}

// Formats of the trade by the long side over the short side of the picture, mm (common practice).
std::string FormatOf(const std::vector<double>& shapes) {
  static const std::pair<double, const char*> kFormats[] = {{36.0 / 24, "35 mm or 6x9"},
                                                            {56.0 / 41.5, "6x4.5"},
                                                            {1, "6x6"},
                                                            {69.0 / 56, "6x7"},
                                                            {120.0 / 95, "4x5 in"}};
  if (shapes.size() < 2) return {};
  const double shape = Median(shapes);
  const char* best = nullptr;
  double least = 0.02;
  for (const auto& [ratio, name] : kFormats)
    if (const double away = std::abs(shape - std::log(ratio)); away < least) {
      least = away;
      best = name;
    }
  return best == nullptr ? "" : best;
}

std::string DayOf(const std::vector<const Photo*>& scans) {
  std::map<std::string, std::size_t> days;
  for (const Photo* scan : scans)
    if (scan->capture.time_us) {
      const std::chrono::sys_days day =
          std::chrono::floor<std::chrono::days>(std::chrono::sys_time<std::chrono::microseconds>(
              std::chrono::microseconds(*scan->capture.time_us)));
      const std::chrono::year_month_day date(day);
      ++days[fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                         static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()))];
    }
  for (const auto& [day, count] : days)
    if (2 * count > scans.size()) return day;
  return {};
}

void Tell(const session::Standing& standing, record::Roll& roll) {
  const auto said = [&](const char* key) -> const std::string* {
    const auto it = standing.roll_facts.find({roll.id, key});
    return it == standing.roll_facts.end() ? nullptr : &it->second;
  };
  if (const std::string* text = said("name")) roll.name = *text;
  if (const std::string* text = said("stock")) roll.stock = *text;
  if (const std::string* text = said("lab")) roll.lab = *text;
  if (const std::string* text = said("format")) roll.format = *text;
  if (const std::string* text = said("scan-day")) roll.scan_day = *text;
  if (const std::string* text = said("black-and-white")) roll.black_and_white = *text == "yes";
  if (const std::string* text = said("expired")) roll.expired = *text == "yes";
  if (const std::string* text = said("push")) roll.push_ev = std::strtod(text->c_str(), nullptr);
  if (const std::string* text = said("rating")) roll.rating_iso = std::strtod(text->c_str(), nullptr);
}

}  // namespace

std::vector<FilmChange> FilmChanges(const std::vector<const Photo*>& scans,
                                    const std::vector<const Measured*>& measured) {
  std::vector<FilmChange> out;
  const std::vector<Photo*>::size_type n = scans.size();
  std::vector<std::pair<std::size_t, std::size_t>> open{{0, n}};
  while (!open.empty()) {
    const auto [first, last] = open.back();
    open.pop_back();
    const auto values = [&](std::size_t from, std::size_t to, const auto& value) {
      std::vector<double> v;
      for (std::size_t i = from; i < to; ++i)
        if (const double x = value(i); std::isfinite(x)) v.push_back(x);
      return v;
    };
    const auto share_grey = [&](std::size_t from, std::size_t to) {
      double grey = 0;
      for (std::size_t i = from; i < to; ++i) grey += measured[i] && measured[i]->black_and_white;
      return grey / static_cast<double>(to - from);
    };
    std::size_t at = BestChange(first, last, [&, f = first, l = last](std::size_t k) {
      const double before = share_grey(f, k), after = share_grey(k, l);
      return std::max(before, after) > 0.9 && std::min(before, after) < 0.1 ? 1.0 : 0.0;
    });
    const auto shape = [&](std::size_t i) { return Shape(*scans[i]); };
    if (at == last)
      at = BestChange(first, last, [&, f = first, l = last](std::size_t k) {
        const auto all_near = [&](std::size_t from, std::size_t to, double middle) {
          std::size_t near = 0;
          for (std::size_t i = from; i < to; ++i) near += std::abs(shape(i) - middle) < kShape / 2;
          return 10 * near > 9 * (to - from);
        };
        const double before = Median(values(f, k, shape)), after = Median(values(k, l, shape));
        return std::abs(before - after) > kShape && all_near(f, k, before) && all_near(k, l, after) ? 1.0
                                                                                                    : 0.0;
      });
    bool certain = at != last;
    if (at == last) {
      const auto grain = [&](std::size_t i) {
        return measured[i] && measured[i]->grain > 0 ? std::log(measured[i]->grain) : NAN;
      };
      // Where the least is left over about two medians; then whether that is more than chance.
      const auto away = [](const std::vector<double>& v) {
        double sum = 0;
        for (double x : v) sum += std::abs(x - Median(v));
        return sum;
      };
      at = BestChange(first, last, [&, f = first, l = last](std::size_t k) {
        return 1 / (0.01 + away(values(f, k, grain)) + away(values(k, l, grain)));
      });
      if (at != last) {
        const auto a = values(first, at, grain), b = values(at, last, grain);
        const auto [errors, apart] = Apart(a, b);
        if (a.size() < kLeast || b.size() < kLeast || apart <= kGrain || errors <= kGrainChance) at = last;
      }
    }
    if (at == last) continue;
    out.push_back({at, certain});
    open.emplace_back(first, at);
    open.emplace_back(at, last);
  }
  std::sort(out.begin(), out.end(), [](const FilmChange& a, const FilmChange& b) { return a.at < b.at; });
  return out;
}

std::vector<record::Roll> StandingRolls(std::vector<record::Roll> rolls, const session::Standing& standing,
                                        const std::unordered_map<PhotoId, Measured>& measured,
                                        std::vector<Photo>& photos) {
  std::unordered_map<PhotoId, Photo*> photo_of;
  for (Photo& photo : photos) photo_of[photo.id] = &photo;
  const auto facts = [&](PhotoId id) {
    const auto it = measured.find(id);
    return it == measured.end() ? nullptr : &it->second;
  };

  // Cut.
  std::vector<record::Roll> out;
  std::set<std::string> names;
  for (const record::Roll& roll : rolls) names.insert(roll.name);
  for (record::Roll& roll : rolls) {
    std::set<PhotoId> starts;
    for (PhotoId scan : IdsOf<PhotoId>(standing, roll.id, kSplit)) starts.insert(scan);
    std::vector<PhotoId> there;
    std::vector<const Photo*> scans;
    std::vector<const Measured*> known;
    for (PhotoId id : roll.scans)
      if (photo_of.contains(id) && facts(id) != nullptr) {
        there.push_back(id);
        scans.push_back(photo_of[id]);
        known.push_back(facts(id));
      }
    for (const FilmChange& change : FilmChanges(scans, known))
      if (change.certain) starts.insert(there[change.at]);
    std::vector<PhotoId> all = std::move(roll.scans);
    roll.scans.clear();
    out.push_back(roll);
    for (PhotoId id : all) {
      if (starts.contains(id) && !out.back().scans.empty()) {
        record::Roll part;
        part.id = RollId{kPart + id.value};
        for (int i = 2; !names.insert(part.name = fmt::format("{} ({})", roll.name, i)).second;) ++i;
        // A person may have cut a part again.
        for (PhotoId scan : IdsOf<PhotoId>(standing, part.id, kSplit)) starts.insert(scan);
        out.push_back(std::move(part));
      }
      out.back().scans.push_back(id);
    }
  }
  // Join.
  for (std::size_t r = 0; r < out.size(); ++r)
    for (RollId other : IdsOf<RollId>(standing, out[r].id, kJoin)) {
      const auto it =
          std::find_if(out.begin(), out.end(), [&](const record::Roll& o) { return o.id == other; });
      if (it == out.end() || it->id == out[r].id) continue;
      std::vector<PhotoId>& mine = out[r].scans;
      const bool after = it > out.begin() + static_cast<long>(r);  // in the order in which the rolls came
      mine.insert(after ? mine.end() : mine.begin(), it->scans.begin(), it->scans.end());
      it->scans.clear();
    }
  std::erase_if(out, [&](const record::Roll& roll) {
    return roll.scans.empty() && std::any_of(out.begin(), out.end(), [&](const record::Roll& o) {
             const auto joined = IdsOf<RollId>(standing, o.id, kJoin);
             return std::find(joined.begin(), joined.end(), roll.id) != joined.end();
           });
  });
  // Know.
  for (record::Roll& roll : out) {
    std::size_t grey = 0, known = 0;
    std::vector<double> shapes;
    std::vector<const Photo*> scans;
    for (std::size_t i = 0; i < roll.scans.size(); ++i) {
      const auto it = photo_of.find(roll.scans[i]);
      if (it == photo_of.end()) continue;
      it->second->roll = roll.id;
      it->second->roll_position = static_cast<int>(i);
      scans.push_back(it->second);
      shapes.push_back(Shape(*it->second));
      if (const Measured* m = facts(roll.scans[i])) {
        ++known;
        grey += m->black_and_white;
      }
    }
    if (known > 0) roll.black_and_white = 2 * grey > known;
    if (!scans.empty()) {
      roll.format = FormatOf(shapes);
      roll.scan_day = DayOf(scans);
    }
    Tell(standing, roll);
  }
  return out;
}

session::RollFact SplitAt(RollId roll, PhotoId scan) {
  return {roll, kSplit + std::to_string(scan.value), "yes"};
}
session::RollFact JoinTo(RollId roll, RollId other) {
  return {roll, kJoin + std::to_string(other.value), "yes"};
}

bool IsDay(const std::string& text) {
  int year = 0;
  unsigned month = 0, day = 0;
  const auto number = [&](std::size_t from, std::size_t count, auto& value) {
    const char* first = text.data() + from;
    const auto [end, code] = std::from_chars(first, first + count, value);
    return code == std::errc() && end == first + count;
  };
  return text.size() == 10 && text[4] == '-' && text[7] == '-' && number(0, 4, year) && number(5, 2, month) &&
         number(8, 2, day) &&
         std::chrono::year_month_day(std::chrono::year(year), std::chrono::month(month),
                                     std::chrono::day(day))
             .ok();
}

}  // namespace samelight::job
