#include "report/words.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>

#include "record/handle.h"
#include "report/report.h"

namespace samelight::report {
namespace {

// With sign, and the typographic minus.
std::string Signed(double value, int digits, const char* unit) {
  return fmt::format("{}{:.{}f}{}{}", value < 0 ? "\u2212" : "+", std::abs(value), digits,
                     *unit == '\0' ? "" : "\u00a0", unit);
}

}  // namespace

std::string Figure(double value) {
  if (!std::isfinite(value)) return "\u2013";
  return value < 9.95 ? fmt::format("{:.1f}", value) : fmt::format("{:.0f}", value);
}

std::string Count(int count, const std::string& one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

std::string ClockTime(std::int64_t time_us) {
  constexpr std::int64_t kMinute = 60'000'000, kDay = 24 * 60;
  const std::int64_t minute = ((time_us / kMinute) % kDay + kDay) % kDay;
  return fmt::format("{:02}:{:02}", minute / 60, minute % 60);
}

std::string RegionName(const record::LeftOver& left_over) {
  if (left_over.face >= 0 && left_over.side != record::Side::kWhole)
    return fmt::format("face {}, {}", left_over.face + 1, Name(left_over.side));
  if (left_over.face >= 0) return fmt::format("face {}", left_over.face + 1);
  return Name(left_over.region);
}

std::string DifferenceWord(record::RegionKind region, const Vec3& scan, const Vec3& frame,
                           double difference) {
  if (!std::isfinite(difference)) return "";
  if (difference < 1) return "alike";
  const std::array<std::array<const char*, 2>, 3> words = {
      {{"darker", "lighter"},
       {"greener", region == record::RegionKind::kSkin ? "redder" : "more magenta"},
       {"bluer", "yellower"}}};
  std::size_t most = 0;
  std::array<double, 3> moved{};
  for (std::size_t i = 0; i < 3; ++i) {
    moved[i] = frame[i] - scan[i];
    if (std::abs(moved[i]) > std::abs(moved[most])) most = i;
  }
  if (!std::isfinite(moved[most]) || moved[most] == 0) return "";
  return fmt::format("{}{}", difference < 2.5 ? "a little " : "", words[most][moved[most] > 0 ? 1 : 0]);
}

std::vector<HandleWord> HandleWords(const record::Handles& h) {
  struct Handle {
    const char* name;
    double value;
    int digits;
    const char* unit;
  };
  const std::array<Handle, 8> all = {{{"exposure", h.exposure_ev, 2, "EV"},
                                      {"warmth", h.warmth_mired, 0, "mired"},
                                      {"green\u2013magenta", h.green_magenta, 1, "Duv \u00d7 1000"},
                                      {"gamma", h.gamma, 2, ""},
                                      {"toe", h.toe, 2, ""},
                                      {"shoulder", h.shoulder, 2, ""},
                                      {"black density", h.black_density, 2, "D"},
                                      {"chroma", 100 * h.chroma, 0, "%"}}};
  std::vector<HandleWord> words;
  for (const Handle& handle : all)
    if (std::isfinite(handle.value) && std::abs(handle.value) >= 0.5 * std::pow(10.0, -handle.digits))
      words.push_back({handle.name, Signed(handle.value, handle.digits, handle.unit)});
  for (const record::HandleFacts& facts : record::AllHandles()) {
    const double value = record::ValueOf(h, facts.handle);
    if (facts.handle > record::Handle::kChroma && std::isfinite(value) &&
        std::abs(value) >= 0.5 * std::pow(10.0, -facts.digits))
      words.push_back({facts.name, Signed(value, facts.digits, facts.unit)});
  }
  return words;
}

std::vector<std::string> AssumedColours(const std::vector<record::Photo>& photos) {
  std::vector<std::string> told;
  for (const bool raw : {true, false}) {
    int count = 0;
    const record::Photo* first = nullptr;
    for (const record::Photo& photo : photos) {
      if (!photo.profile_assumed || (photo.encoding == record::Encoding::kRaw) != raw) continue;
      if (count++ == 0) first = &photo;
    }
    if (count == 0) continue;
    const std::string name = std::filesystem::path(first->path).filename().string();
    const std::string who = count == 1 ? name : fmt::format("{} ({} and others)", Count(count, "file"), name);
    told.push_back(raw ? fmt::format("{}: the colours of the camera are not known, and were taken for those "
                                     "of sRGB. A DNG with a colour matrix would tell.",
                                     who)
                       : fmt::format("{}: no colour space is named, and sRGB was taken. If that is wrong, "
                                     "embed the right profile.",
                                     who));
  }
  return told;
}

}  // namespace samelight::report
