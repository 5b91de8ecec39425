#include "solve/reasons.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

#include "base/median.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "solve/left_over.h"
#include "solve/mixed_light.h"
#include "solve/skin_spread.h"

namespace samelight::solve {
namespace {

using record::Flag;
using record::FlagKind;

constexpr double kDoubtfulPair = 0.6;
// Share of the picture at the ends of a display-referred file. Night has much black that nobody misses.
constexpr double kClippedHigh = 0.03, kClippedLow = 0.2;

double Level(const record::Measured* measured) {
  return measured == nullptr ? std::log2(look::kMidGrey) : measured->light.log2_level;
}

const char* FileWord(record::Encoding encoding) {
  switch (encoding) {
    case record::Encoding::kTiff:
      return "TIFF";
    case record::Encoding::kPng:
      return "PNG";
    default:
      return "camera JPEG";
  }
}

void JudgeFile(const record::Photo& photo, const record::Measured& measured, std::vector<Flag>& flags) {
  if (photo.encoding == record::Encoding::kRaw) return;
  for (const auto& [share, most, words] : {std::tuple(measured.clipped_high, kClippedHigh, "highlights"),
                                           std::tuple(measured.clipped_low, kClippedLow, "blacks")})
    if (share > most)
      flags.push_back(
          {FlagKind::kClipped,
           fmt::format("{} with clipped {}: they cannot be brought back", FileWord(photo.encoding), words),
           fmt::format("{} with clipped {}", FileWord(photo.encoding), words)});
}

bool Clips(const look::Resolved& resolved, const Vec3& pixel) {
  constexpr double kWhite = 0.99;  // linear sRGB: 254 of 255
  static const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const Vec3 v = Mul(srgb, look::Evaluate(resolved, pixel));
  return std::max({v[0], v[1], v[2]}) > kWhite;
}

// Skin and white cloth of which a quarter is clipped, and would not be without the editor's own last change.
void JudgeTouch(const record::Measured& measured, const record::Correction& correction,
                std::vector<Flag>& flags) {
  constexpr double kLeastArea = 0.005;
  if (correction.touch == record::Handles{}) return;
  record::Correction untouched = correction;
  untouched.touch = {};
  const look::Resolved now = look::Resolve(correction), before = look::Resolve(untouched);
  for (const record::RegionStat& r : measured.regions) {
    if (r.face >= 0 || r.area < kLeastArea ||
        (r.kind != record::RegionKind::kSkin && r.kind != record::RegionKind::kWhiteCloth))
      continue;
    if (Clips(now, r.quantiles[3]) && !Clips(before, r.quantiles[3]))
      flags.push_back(
          {FlagKind::kTouchClips, fmt::format("{} is clipped by the touch", record::Name(r.kind)), ""});
  }
}

const Flag& SkinApart() {
  static const Flag flag{FlagKind::kSkinApart, "skin differs from its neighbours in this light", ""};
  return flag;
}

}  // namespace

void Rejudge(const Evidence& evidence, record::FrameSolution& frame) {
  std::erase_if(frame.flags, [](const Flag& flag) {
    return flag.kind == FlagKind::kLeftOver || flag.kind == FlagKind::kTouchClips;
  });
  std::vector<Flag> again;
  if (evidence.matched != nullptr) {
    frame.left_over = MeasureLeftOver(*evidence.matched, *evidence.photo, Level(evidence.measured),
                                      frame.correction, frame.nudge);
    // A scan that is kept out of the look is no aim.
    if (frame.scan_in_look)
      if (auto reason = ReasonOf(frame.left_over, evidence.tolerance)) again.push_back(std::move(*reason));
  }
  if (evidence.measured != nullptr) JudgeTouch(*evidence.measured, frame.correction, again);
  frame.flags.insert(frame.flags.begin(), again.begin(), again.end());
}

void Judge(const Request& request, const record::Photo& photo, const record::Pair* pair, Film film,
           record::FrameSolution& frame) {
  Evidence evidence{&photo, nullptr, nullptr, request.tolerance};
  if (const auto m = request.measured.find(photo.id); m != request.measured.end())
    evidence.measured = &m->second;
  if (pair != nullptr)
    for (const record::Correspondence& c : request.scan_to_frame)
      if (c.a == pair->scan && c.b == photo.id) evidence.matched = &c;
  if (evidence.matched != nullptr && frame.scan_in_look) {
    record::Correction match = FullMatch(frame.correction);
    match.touch = {};
    if (const std::string where = MixedLightOn(*evidence.matched, look::Resolve(match)); !where.empty())
      frame.flags.push_back({FlagKind::kMixedLight,
                             fmt::format("mixed light: one correction does not fit {}", where),
                             "mixed light"});
  }
  if (pair != nullptr && pair->confidence < kDoubtfulPair && !pair->by_person)
    frame.flags.push_back({FlagKind::kDoubtfulPair, "the pair with its scan is doubtful", ""});
  if (pair != nullptr && pair->kind == record::PairKind::kLight)
    frame.flags.push_back({FlagKind::kLightOnly, "paired by light only: the scan shows something else",
                           "paired by light only"});
  if (film == Film::kNone)
    frame.flags.push_back({FlagKind::kNoFilm,
                           "no film saw this light: the look is carried over from the others",
                           "no film saw this light"});
  if (film == Film::kLikeRegions)
    frame.flags.push_back({FlagKind::kLikeRegions,
                           "the film of this light shows other things: only like regions were compared",
                           "the film of this light shows other things"});
  if (evidence.measured != nullptr) JudgeFile(photo, *evidence.measured, frame.flags);
  Rejudge(evidence, frame);
}

void FlagOutliers(const std::unordered_map<PhotoId, record::Measured>& measured,
                  const std::vector<record::FrameSolution*>& light) {
  constexpr std::size_t kFewest = 4;
  // Lightness of skin differs from face to face; chroma differences are what the eye sees across a spread.
  constexpr double kFar = 9;  // CIELAB a*b*
  std::vector<std::pair<record::FrameSolution*, Vec3>> skin;
  for (record::FrameSolution* f : light) {
    std::erase_if(f->flags, [](const Flag& flag) { return flag.kind == FlagKind::kSkinApart; });
    const auto m = measured.find(f->frame);
    if (m == measured.end()) continue;
    if (const auto lab = SkinOf(m->second, f->correction)) skin.emplace_back(f, *lab);
  }
  if (skin.size() < kFewest) return;
  Vec3 middle;
  for (int c = 0; c < 3; ++c) {
    std::vector<double> v;
    for (const auto& entry : skin) v.push_back(entry.second[c]);
    middle[c] = Median(v);
  }
  for (const auto& [f, lab] : skin)
    if (std::hypot(lab[1] - middle[1], lab[2] - middle[2]) > kFar) f->flags.push_back(SkinApart());
}

void FlagOutliers(const std::unordered_map<PhotoId, record::Measured>& measured,
                  std::vector<record::FrameSolution>& frames) {
  std::map<LightId, std::vector<record::FrameSolution*>> lights;
  for (record::FrameSolution& f : frames) lights[f.light].push_back(&f);
  for (const auto& [id, light] : lights) FlagOutliers(measured, light);
}

}  // namespace samelight::solve
