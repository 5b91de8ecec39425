#include "solve/solve.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <map>
#include <optional>
#include <set>
#include <unordered_set>
#include <utility>

#include "color/difference.h"
#include "look/evaluate.h"
#include "look/ramps.h"
#include "solve/film_evidence.h"
#include "solve/film_fit.h"
#include "solve/foretold.h"
#include "solve/hold_grey.h"
#include "solve/in_look.h"
#include "solve/light_rule.h"
#include "solve/reasons.h"
#include "solve/scan_nudge.h"
#include "solve/shown.h"
#include "solve/skin_cue.h"
#include "solve/spread.h"
#include "solve/teach.h"
#include "solve/unify.h"

namespace samelight::solve {
namespace {

constexpr int kRoundsWithoutAScan = 3;
// Of one frame beside its light, one standard deviation: seen at once in a gallery. A camera JPEG that
// nothing ties has 0.06 of its own white.
constexpr double kUnsureStops = 0.25, kUnsureColour = 0.045;  // colour: log10
// Of a light by coloured lamps against what the rule says, log10.
constexpr double kApartLevel = 0.2, kApartColour = 0.3;

Error Cancelled() {
  return {ErrorCode::kCancelled, "stopped while solving", "", "run the command again to go on"};
}

class Solver {
 public:
  Solver(const Request& request, const Cancel& cancel) : request_(request), cancel_(cancel) {
    for (const record::Photo& p : request.photos) photo_[p.id] = &p;
    for (std::size_t i = 0; i < request.lights.size(); ++i)
      light_index_[request.lights[i].id] = static_cast<int>(i);
    if (request.earlier) before_ = TaughtBy(*request.earlier);
  }

  Result<Solution> Run(Progress& progress) {
    progress.Begin("solving", 4);
    unified_ = UnifyFrames(request_);
    progress.Advance(1);
    if (cancel_.requested()) return Cancelled();
    FilmEvidence evidence = GatherFilm(request_, unified_);
    session_ = std::move(evidence.session);
    session_.before = before_.look;
    scan_ids_ = std::move(evidence.scans);
    filmed_ = std::move(evidence.filmed);
    apart_ = session_.LightsApart();
    FitWithRule();
    if (cancel_.requested()) return Cancelled();
    progress.Advance(2);
    Solution solution = Compose();
    if (cancel_.requested()) return Cancelled();  // stability would be that of a part of the scans
    progress.Advance(1);
    progress.End();
    return solution;
  }

 private:
  const LightState& State(int light) const {
    static const LightState nothing;  // of a light without any photograph of the request
    const auto it = unified_.lights.find(request_.lights[light].id);
    return it == unified_.lights.end() ? nothing : it->second;
  }

  // What the filmed lights but `left_out` say of the others.
  LightRule RuleWithout(int left_out) const {
    std::vector<FilmedLight> lights;
    for (int l : filmed_) {
      if (l == left_out || !TellsOthers(l)) continue;
      FilmedLight light{State(l), fit_.light[l], {}};
      for (const FilmSession::Scan& s : session_.scans)
        if (s.light == l) light.rolls.push_back(s.roll);
      lights.push_back(std::move(light));
    }
    return {std::move(lights), before_.rule};
  }

  // Fit, learn the rule of the lights' offsets, fit again with every light drawn toward what the others say
  // of it.
  void FitWithRule() {
    fit_ = FilmFit::Start(session_);
    if (session_.samples.empty()) return;
    const FilmFit first = FitFilm(session_, nullptr, cancel_);
    if (!first.usable) return;
    fit_ = first;
    for (int l : filmed_) session_.lights[l] = RuleWithout(l).For(State(l));
    stray_ = StrayOf(first);
    for (int l : filmed_) session_.lights[l] = Widened(session_.lights[l]);
    // What daylight and lamps for seeing by tell says little of coloured ones.
    for (int l : apart_) {
      session_.lights[l].level_sigma = std::max(session_.lights[l].level_sigma, kApartLevel);
      session_.lights[l].colour_sigma = std::max(session_.lights[l].colour_sigma, kApartColour);
    }
    // What little a light without matched places tells must not end the fit before it is heard.
    FilmFit start = first;
    for (int l : filmed_)
      if (!HasMatchedScan(l)) start.light[l] = session_.lights[l].mean;
    const FilmFit second = FitFilm(session_, &start, cancel_);
    if (second.usable) fit_ = second;
    FindCovariance(session_, fit_);
  }

  // How far lights stray from what the others say of them, against what the rule expects of itself: variances
  // by leaving one light out, the rule's own counting as kRuleCounts lights (empirical Bayes).
  struct Stray {
    double level = 1, colour = 1;  // factors of one standard deviation
  };
  Stray StrayOf(const FilmFit& fit) const {
    constexpr double kRuleCounts = 6, kMost = 2.5, kLeast = 0.7;
    double level = kRuleCounts, colour = kRuleCounts, count = kRuleCounts;
    for (const int l : filmed_) {
      if (!TellsOthers(l)) continue;
      const OffsetPrior& told = session_.lights[l];
      Vec3 away;
      for (int c = 0; c < 3; ++c) away[c] = fit.light[l][c] - told.mean[c];
      const double mean = (away[0] + away[1] + away[2]) / 3;
      const double red = (away[0] - away[1]) / told.colour_sigma,
                   blue = (away[2] - away[1]) / told.colour_sigma;
      level += mean * mean / (told.level_sigma * told.level_sigma);
      colour += 0.5 * (red * red + blue * blue);
      ++count;
    }
    return {std::clamp(std::sqrt(level / count), kLeast, kMost),
            std::clamp(std::sqrt(colour / count), kLeast, kMost)};
  }
  OffsetPrior Widened(OffsetPrior prior) const {
    prior.level_sigma *= stray_.level;
    prior.colour_sigma *= stray_.colour;
    return prior;
  }

  bool HasMatchedScan(int light) const {
    return std::any_of(session_.scans.begin(), session_.scans.end(),
                       [&](const FilmSession::Scan& s) { return s.light == light && s.matched; });
  }

  // Film under coloured lamps tells its own light only.
  bool TellsOthers(int light) const { return HasMatchedScan(light) && !apart_.contains(light); }

  // The roll with most scans in the light; -1 without film.
  int RollOfLight(int light) const {
    std::map<int, int> count;
    for (const FilmSession::Scan& s : session_.scans)
      if (s.light == light) ++count[s.roll];
    int best = -1, most = 0;
    for (const auto& [roll, n] : count)
      if (n > most) {
        most = n;
        best = roll;
      }
    return best;
  }

  // What frames of a light with film are rendered with.
  LookVector SeenLook(const FilmFit& fit, int light) const { return fit.LookOf(RollOfLight(light), light); }
  Vec3 SeenOffset(const FilmFit& fit, int light) const { return fit.OffsetOf(RollOfLight(light), light); }

  // How probable each roll's film is for a light: certain where the roll has scans in it, else by what the
  // rule says of the film for such a place.
  std::vector<double> SharesOfRolls(int light, const LightRule& rule) const {
    std::vector<double> shares(fit_.roll.size(), 0.0);
    if (session_.scans.empty()) return shares;
    const int own = RollOfLight(light);
    if (own >= 0) {
      shares[static_cast<std::size_t>(own)] = 1;
      return shares;
    }
    std::vector<LightState> of_scan;
    std::vector<std::size_t> roll_of_scan;
    for (const FilmSession::Scan& s : session_.scans) {
      if (s.own_light_only) continue;
      of_scan.push_back(State(s.light));
      roll_of_scan.push_back(static_cast<std::size_t>(s.roll));
    }
    if (of_scan.empty()) return shares;
    const std::vector<double> parts = rule.PartsInFilm(State(light), of_scan);
    for (std::size_t i = 0; i < parts.size(); ++i) shares[roll_of_scan[i]] += parts[i];
    return shares;
  }

  // What the rolls' looks in these shares differ from the common one.
  LookVector MixedStray(const std::vector<double>& shares) const {
    LookVector stray{};
    for (std::size_t r = 0; r < shares.size(); ++r)
      for (int k = 0; k < kLookSize; ++k) stray[k] += fit_.roll[r][k] * shares[r];
    return stray;
  }

  Solution Compose() {
    Solution solution;
    solution.notes = unified_.notes;
    if (scan_ids_.empty())
      solution.notes.push_back(
          request_.earlier
              ? fmt::format("No scan could be used for the look: it is '{}', learned from {}. Whether "
                            "this session's lab prints at that level cannot be seen.",
                            request_.earlier->name, Sessions(request_.earlier->lessons.size()))
              : "No scan could be used for the look: a plain film-like look is delivered.");
    if (request_.earlier && fit_.usable) {
      std::vector<Foretold> foretold;
      for (const int l : filmed_)
        if (TellsOthers(l))
          foretold.push_back(ForetellGrey(before_, State(l), SeenLook(fit_, l), SeenOffset(fit_, l)));
      if (const auto unlike = UnlikeForetold(foretold, request_.earlier->name))
        solution.notes.push_back(*unlike);
    }
    struct OfLight {
      LookVector look;
      Vec3 offset;
      record::Look shown;  // the look, its ramps rising
      record::Uncertainty uncertainty;
      std::string name;
      bool filmed = false;
    };
    const std::string common_name =
        scan_ids_.empty() && request_.earlier ? request_.earlier->name : "common look";
    const std::vector<Vec3> skin_seen = SkinOnFilm();
    std::vector<OfLight> lights(request_.lights.size());
    const LightRule rule = RuleWithout(-1);
    for (int l = 0; l < static_cast<int>(lights.size()); ++l) {
      OfLight& of = lights[l];
      const int roll = RollOfLight(l);
      const std::vector<double> shares = SharesOfRolls(l, rule);
      of.filmed = roll >= 0 && fit_.usable;
      of.name = of.filmed && roll < static_cast<int>(request_.rolls.size()) ? request_.rolls[roll].name
                                                                            : common_name;
      if (of.filmed) {
        of.look = SeenLook(fit_, l);
        of.offset = SeenOffset(fit_, l);
        of.uncertainty = UncertaintyOf(of.look, of.offset, SpreadOfFilmed(fit_, shares, l));
      } else {
        OffsetPrior belief = Widened(rule.For(State(l)));
        const LookVector stray = MixedStray(shares);
        const Vec3 held = HoldGrey(stray);
        of.look = fit_.common;
        for (int k = 0; k < kLookSize; ++k) of.look[k] += stray[k];
        for (int c = 0; c < 3; ++c) belief.mean[c] += held[c];
        if (State(l).skin) belief = WithSkinCue(belief, of.look, *State(l).skin, skin_seen);
        of.offset = belief.mean;
        of.uncertainty =
            UncertaintyOf(of.look, of.offset, SpreadOfCarried(fit_, shares, belief, before_.look));
      }
      of.shown = look::WithRisingRamps(RecordFrom(of.look), of.offset);
    }
    const std::map<int, Vec3> loose = LooseOffsets();
    std::unordered_map<PhotoId, std::vector<const record::Pair*>> pairs_of_frame;
    for (const record::Pair& p : request_.pairs)
      if (p.kind != record::PairKind::kNone) pairs_of_frame[p.frame].push_back(&p);

    for (const record::Photo& photo : request_.photos) {
      if (photo.role != record::Role::kFrame) continue;
      const LightId light = unified_.light_of[photo.id];
      record::FrameSolution f;
      f.frame = photo.id;
      f.light = light;
      f.correction.frame = photo.id;
      f.correction.unify = unified_.frames[photo.id];
      f.correction.follow =
          request_.follow.contains(photo.id) ? request_.follow.at(photo.id) : request_.follow_all;
      f.correction.follow_skin = std::min(f.correction.follow, request_.follow_skin);
      if (request_.touch.contains(photo.id)) f.correction.touch = request_.touch.at(photo.id);
      const auto index = light_index_.find(light);
      const OfLight* of = index == light_index_.end() ? nullptr : &lights[index->second];
      f.correction.look = of != nullptr ? of->shown : RecordFrom(fit_.common);
      f.correction.offset_log10 = of != nullptr ? of->offset : Vec3{0, 0, 0};
      if (of != nullptr && of->filmed)
        for (int c = 0; c < 3; ++c)
          f.correction.offset_log10[c] += unified_.place[photo.id] * fit_.trend[index->second][c];
      f.look = of != nullptr ? of->name : common_name;
      if (of != nullptr) {
        f.uncertainty = of->uncertainty;
        AddOwnDoubt(of->look, of->offset, unified_.doubt[photo.id], f.uncertainty);
      }
      const record::Pair* pair = nullptr;
      for (const record::Pair* p : pairs_of_frame[photo.id])
        if (pair == nullptr || p->confidence > pair->confidence) pair = p;
      if (pair != nullptr) {
        f.scan = pair->scan;
        f.scan_in_look = InLook(request_, pair->scan);
        if (const auto at = IndexOf(pair->scan)) f.nudge = NudgeOf(session_, fit_, *at);
      }
      if (const auto group = unified_.loose.find(photo.id);
          group != unified_.loose.end() && loose.contains(group->second))
        for (int c = 0; c < 3; ++c) {
          f.correction.offset_log10[c] += loose.at(group->second)[c];
          if (f.nudge != record::ScanNudge{}) f.nudge.offset_log10[c] -= loose.at(group->second)[c];
        }
      if (request_.follow_scan) Add(std::exchange(f.nudge, {}), f.correction);
      f.shown = ShownHandles(f.correction);
      const Film film = of == nullptr || !of->filmed    ? Film::kNone
                        : HasMatchedScan(index->second) ? Film::kMatched
                                                        : Film::kLikeRegions;
      Judge(request_, photo, pair, film, f);
      const OwnDoubt& doubt = unified_.doubt[photo.id];
      if (const double stops = doubt.level / look::kLog10Of2; stops > kUnsureStops)
        f.flags.push_back(
            {record::FlagKind::kUnsure,
             fmt::format("nothing ties it to its neighbours: its exposure may be off by {:.1f} stops", stops),
             "nothing ties it to its neighbours"});
      if (doubt.colour > kUnsureColour && pair == nullptr)
        f.flags.push_back({record::FlagKind::kUnsure,
                           "nothing ties its white to its neighbours: its colour may be off",
                           "nothing ties its white to its neighbours"});
      solution.frames.push_back(std::move(f));
    }
    FlagOutliers(request_.measured, solution.frames);
    if (fit_.usable)
      for (const RollSpread& s : SpreadsOfRolls(session_, fit_))
        if (s.roll < static_cast<int>(request_.rolls.size()))
          solution.rolls.push_back({request_.rolls[s.roll].id, s.scans, s.de});
    for (std::size_t i = 0; i < scan_ids_.size(); ++i)
      solution.nudges.push_back({scan_ids_[i], NudgeSize(i), Influence(i)});
    TellStability(solution);
    if (!request_.earlier) solution.taught = Taught();
    return solution;
  }

  // CIELAB of skin in each light that has matched film and shows any.
  std::vector<Vec3> SkinOnFilm() const {
    std::vector<Vec3> seen;
    for (const int l : filmed_)
      if (TellsOthers(l) && State(l).skin)
        seen.push_back(PredictLab(SeenLook(fit_, l), SeenOffset(fit_, l), *State(l).skin));
    return seen;
  }

  static std::string Sessions(std::size_t count) {
    return count == 1 ? "one session" : fmt::format("{} sessions", count);
  }

  std::vector<Solution::Taught> Taught() const {
    if (scan_ids_.empty() || !fit_.usable) return {};
    std::vector<LightState> states;
    for (int l = 0; l < static_cast<int>(request_.lights.size()); ++l) states.push_back(State(l));
    std::vector<Solution::Taught> all = Teach(session_, fit_, request_.rolls, states);
    for (Solution::Taught& taught : all) taught.lesson.source = unified_.reference;
    return all;
  }

  // Frames that nothing ties to the others are told by their own scans: of what such a scan departs from its
  // light, the frames' share (empirical Bayes; the rest is the lab's nudge). By group of frames that hang
  // together.
  std::map<int, Vec3> LooseOffsets() const {
    const auto share = [](double frame, double lab) { return frame * frame / (frame * frame + lab * lab); };
    const double of_level = share(kLooseLevel, kNudgeLevel), of_colour = share(kLooseColour, kNudgeColour);
    std::map<int, Vec3> sum;
    std::map<int, int> count;
    for (const record::Pair& pair : request_.pairs) {
      const auto group = unified_.loose.find(pair.frame);
      const auto at = IndexOf(pair.scan);
      if (group == unified_.loose.end() || !at) continue;
      const std::array<double, kNudgeSize>& nudge = fit_.nudge[*at];
      const double level = (nudge[0] + nudge[1] + nudge[2]) / 3;
      for (int c = 0; c < 3; ++c) sum[group->second][c] += of_level * level + of_colour * (nudge[c] - level);
      ++count[group->second];
    }
    for (auto& [group, offset] : sum)
      for (double& v : offset) v /= count[group];
    return sum;
  }

  // Of a scan in the fit; nothing when it is not.
  std::optional<std::size_t> IndexOf(PhotoId scan) const {
    const auto at = std::find(scan_ids_.begin(), scan_ids_.end(), scan);
    if (at == scan_ids_.end() || !fit_.usable) return std::nullopt;
    return static_cast<std::size_t>(at - scan_ids_.begin());
  }

  double NudgeSize(std::size_t i) const {
    if (!fit_.usable) return 0;
    return Difference(session_, fit_, i, NudgeOf(session_, fit_, i), {});
  }

  void TellStability(Solution& solution) const {
    if (solution.nudges.size() < 2) return;
    double mean = 0;
    const Solution::ScanNudge* most = &solution.nudges.front();
    for (const Solution::ScanNudge& n : solution.nudges) {
      mean += n.influence / static_cast<double>(solution.nudges.size());
      if (n.influence > most->influence) most = &n;
    }
    solution.notes.push_back(fmt::format(
        "Without any one scan, usual colours in the lights with film move by {:.1f} on average "
        "(CIEDE2000); most, by {:.1f}, without {}.",
        mean, most->influence, std::filesystem::path(photo_.at(most->scan)->path).filename().string()));
  }

  // How far skin, leaf and grey in the lights with film move when one scan is taken out: mean CIEDE2000.
  double Influence(std::size_t out) const {
    if (cancel_.requested()) return 0;
    FilmSession rest = session_;
    std::erase_if(rest.samples, [&](const FilmSample& s) { return s.scan == static_cast<int>(out); });
    const FilmFit without = FitFilm(rest, &fit_, cancel_, kRoundsWithoutAScan);
    if (!without.usable) return 0;
    double sum = 0;
    int count = 0;
    for (const int l : filmed_) {
      for (const Vec3& scene : kUsualColours) {
        sum += color::Ciede2000(PredictLab(SeenLook(without, l), SeenOffset(without, l), scene),
                                PredictLab(SeenLook(fit_, l), SeenOffset(fit_, l), scene));
        ++count;
      }
    }
    return count > 0 ? sum / count : 0;
  }

  const Request& request_;
  Cancel cancel_;
  Earlier before_ = BuiltIn();
  Unification unified_;
  FilmSession session_;
  FilmFit fit_;
  Stray stray_;
  std::vector<PhotoId> scan_ids_;
  std::set<int> filmed_;
  std::set<int> apart_;  // of these, by coloured lamps
  std::unordered_map<PhotoId, const record::Photo*> photo_;
  std::unordered_map<LightId, int> light_index_;
};

}  // namespace

Result<Solution> SolveSession(const Request& request, Progress& progress, const Cancel& cancel) {
  if (std::none_of(request.photos.begin(), request.photos.end(),
                   [](const record::Photo& p) { return p.role == record::Role::kFrame; }))
    return Error{ErrorCode::kNothingToDo, "there are no digital frames to correct", "",
                 "add a folder of frames"};
  return Solver(request, cancel).Run(progress);
}

}  // namespace samelight::solve
