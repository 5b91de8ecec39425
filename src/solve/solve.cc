#include "solve/solve.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <map>
#include <set>
#include <unordered_set>

#include "color/difference.h"
#include "look/evaluate.h"
#include "solve/film_fit.h"
#include "solve/left_over.h"
#include "solve/light_rule.h"
#include "solve/median.h"
#include "solve/shown.h"
#include "solve/teach.h"
#include "solve/unify.h"

namespace samelight::solve {
namespace {

constexpr std::size_t kSamplesPerScan = 400;
constexpr int kRoundsWithoutAScan = 3;
constexpr double kSceneClip = 0.92;    // raw value near the white level, not trusted
constexpr double kDisplayClip = 0.93;  // display-linear, about 247 of 255
constexpr double kOtherFrameWeight =
    0.6;  // another moment of the light shows the same things a little differently
constexpr double kDisplayWeight = 0.5;  // camera JPEG: clipped and sharpened
constexpr double kDoubtfulPair = 0.6;

Error Cancelled() {
  return {ErrorCode::kCancelled, "stopped while solving", "", "run the command again to go on"};
}

double MaxOf(const float v[3]) { return std::max({v[0], v[1], v[2]}); }

class Solver {
 public:
  Solver(const Request& request, const Cancel& cancel) : request_(request), cancel_(cancel) {
    for (const record::Photo& p : request.photos) photo_[p.id] = &p;
    for (const record::Pair& p : request.pairs) pair_of_scan_[p.scan] = &p;
    for (std::size_t i = 0; i < request.lights.size(); ++i)
      light_index_[request.lights[i].id] = static_cast<int>(i);
    for (std::size_t i = 0; i < request.rolls.size(); ++i)
      for (PhotoId s : request.rolls[i].scans) roll_of_scan_[s] = static_cast<int>(i);
    if (request.earlier) before_ = TaughtBy(*request.earlier);
    session_.before = before_.look;
  }

  Result<Solution> Run(Progress& progress) {
    progress.Begin("solving", 4);
    unified_ = UnifyFrames(request_);
    progress.Advance(1);
    if (cancel_.requested()) return Cancelled();
    GatherScans();
    FitWithRule();
    if (cancel_.requested()) return Cancelled();
    progress.Advance(2);
    Solution solution = Compose();
    progress.Advance(1);
    progress.End();
    return solution;
  }

 private:
  bool InLook(PhotoId scan) const {
    if (std::find(request_.barred.begin(), request_.barred.end(), scan) != request_.barred.end())
      return false;
    const auto m = request_.measured.find(scan);
    if (m != request_.measured.end() && m->second.black_and_white) return false;
    const auto r = roll_of_scan_.find(scan);
    return r == roll_of_scan_.end() || !request_.rolls[r->second].black_and_white;
  }

  // Samples of every scan that may enter the look.
  void GatherScans() {
    session_.rolls = std::max<int>(1, static_cast<int>(request_.rolls.size()));
    session_.lights.resize(request_.lights.size());
    std::map<PhotoId, std::vector<FilmSample>> by_scan;
    for (const record::Correspondence& c : request_.scan_to_frame) {
      const auto pair = pair_of_scan_.find(c.a);
      const auto frame = photo_.find(c.b);
      if (pair == pair_of_scan_.end() || frame == photo_.end() || !InLook(c.a)) continue;
      const auto unify = unified_.frames.find(c.b);
      if (unify == unified_.frames.end()) continue;
      record::Correction identity;
      identity.unify = unify->second;
      const look::Resolved resolved = look::Resolve(identity);
      const bool display = identity.unify.display_referred;
      double weight = pair->second->frame == c.b ? 1.0 : kOtherFrameWeight;
      if (display) weight *= kDisplayWeight;
      for (const record::Cell& cell : c.cells) {
        if (cell.region == record::RegionKind::kMasked) continue;
        if (MaxOf(cell.b_rgb) > (display ? kDisplayClip : kSceneClip) || MaxOf(cell.a_rgb) > kDisplayClip)
          continue;
        FilmSample s;
        s.scene = look::Unified(resolved, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]});
        s.lab = LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]});
        s.weight =
            weight * cell.weight * (cell.region == record::RegionKind::kSkin ? request_.skin_weight : 1.0);
        by_scan[c.a].push_back(s);
      }
    }
    for (auto& [scan, samples] : by_scan) {
      const record::Pair& pair = *pair_of_scan_[scan];
      const auto light = unified_.light_of.find(pair.frame);
      if (samples.size() < 12 || light == unified_.light_of.end() || !light_index_.contains(light->second))
        continue;
      FilmSession::Scan entry;
      entry.light = light_index_[light->second];
      entry.roll = roll_of_scan_.contains(scan) ? roll_of_scan_[scan] : 0;
      if (const auto shown = unified_.content.find(pair.frame); shown != unified_.content.end()) {
        const LightState& state = State(entry.light);
        entry.level = shown->second.level_log10 - state.level_log10;
        for (int c = 0; c < 3; ++c) entry.grey[c] = shown->second.grey_log10[c] - state.grey_log10[c];
      }
      const int index = static_cast<int>(session_.scans.size());
      session_.scans.push_back(entry);
      scan_ids_.push_back(scan);
      const double step = std::max(1.0, static_cast<double>(samples.size()) / kSamplesPerScan);
      for (double at = 0; at < static_cast<double>(samples.size()); at += step) {
        FilmSample s = samples[static_cast<std::size_t>(at)];
        s.scan = index;
        session_.samples.push_back(s);
      }
    }
    for (const FilmSession::Scan& s : session_.scans) filmed_.insert(s.light);
  }

  const LightState& State(int light) const { return unified_.lights.at(request_.lights[light].id); }

  // What the filmed lights but `left_out` say of this one.
  LightRule RuleFor(int wanted, int left_out) const {
    std::vector<LightState> states;
    std::vector<Vec3> offsets;
    for (int l : filmed_)
      if (l != left_out) {
        states.push_back(State(l));
        offsets.push_back(fit_.light[l]);
      }
    return LearnRule(states, offsets, State(wanted), before_.rule);
  }

  // Fit, learn the rule of the lights' offsets, fit again with every light drawn toward what the others say
  // of it.
  void FitWithRule() {
    fit_.common = before_.look.mean;
    fit_.roll.assign(static_cast<std::size_t>(session_.rolls), LookVector{});
    fit_.light.assign(session_.lights.size(), Vec3{0, 0, 0});
    if (!session_.samples.empty()) {
      const FilmFit first = FitFilm(session_, nullptr, cancel_);
      if (first.usable) {
        fit_ = first;
        for (int l : filmed_) {
          const LightRule rule = RuleFor(l, l);
          session_.lights[l] = {rule.Offset(State(l)), rule.level_sigma, rule.colour_sigma};
        }
        const FilmFit second = FitFilm(session_, &first, cancel_);
        if (second.usable) fit_ = second;
      }
    }
  }

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

  // The looks of the session's rolls, mixed by how much their lights have in common with this one.
  LookVector LookFor(int light) const {
    LookVector look = fit_.common;
    double total = 0;
    for (const FilmSession::Scan& s : session_.scans) total += Kinship(State(s.light), State(light));
    for (const FilmSession::Scan& s : session_.scans)
      for (int i = 0; i < kLookSize; ++i)
        look[i] += fit_.roll[s.roll][i] * Kinship(State(s.light), State(light)) / total;
    return look;
  }

  static Mat3 CovarianceOf(const LightRule& rule) {
    const double l = rule.level_sigma * rule.level_sigma, c = rule.colour_sigma * rule.colour_sigma;
    Mat3 m;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) m[i][j] = l + c * ((i == j ? 1.0 : 0.0) - 1.0 / 3);
    return m;
  }

  Solution Compose() {
    Solution solution;
    solution.notes = unified_.notes;
    if (scan_ids_.empty())
      solution.notes.push_back(
          request_.earlier ? fmt::format("No scan could be used for the look: it is '{}', learned from {}.",
                                         request_.earlier->name, Sessions(request_.earlier->lessons.size()))
                           : "No scan could be used for the look: a plain film-like look is delivered.");
    struct OfLight {
      LookVector look;
      Vec3 offset;
      record::Uncertainty uncertainty;
      std::string name;
      bool filmed = false;
    };
    const std::string common_name =
        scan_ids_.empty() && request_.earlier ? request_.earlier->name : "common look";
    std::vector<OfLight> lights(request_.lights.size());
    for (int l = 0; l < static_cast<int>(lights.size()); ++l) {
      OfLight& of = lights[l];
      const int roll = RollOfLight(l);
      of.filmed = roll >= 0;
      of.look = of.filmed ? fit_.RollLook(roll) : LookFor(l);
      of.name = of.filmed && roll < static_cast<int>(request_.rolls.size()) ? request_.rolls[roll].name
                                                                            : common_name;
      if (of.filmed) {
        of.offset = fit_.light[l];
        of.uncertainty = UncertaintyOf(of.look, of.offset, fit_.light_covariance[l]);
      } else {
        const LightRule rule = RuleFor(l, -1);
        of.offset = rule.Offset(State(l));
        of.uncertainty = UncertaintyOf(of.look, of.offset, CovarianceOf(rule));
      }
    }
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
      const LookVector look = of != nullptr ? of->look : fit_.common;
      f.correction.look = RecordFrom(look);
      f.correction.offset_log10 = of != nullptr ? of->offset : Vec3{0, 0, 0};
      f.look = of != nullptr ? of->name : common_name;
      if (of != nullptr) f.uncertainty = of->uncertainty;
      const record::Pair* pair = nullptr;
      for (const record::Pair* p : pairs_of_frame[photo.id])
        if (pair == nullptr || p->confidence > pair->confidence) pair = p;
      if (pair != nullptr) {
        f.scan = pair->scan;
        if (request_.follow_scan) AddNudge(pair->scan, f.correction.offset_log10);
      }
      f.shown = ShownHandles(f.correction);
      Judge(photo, pair, of != nullptr && of->filmed, f);
      solution.frames.push_back(std::move(f));
    }
    FlagOutliers(solution);
    for (std::size_t i = 0; i < scan_ids_.size(); ++i)
      solution.nudges.push_back({scan_ids_[i], NudgeSize(i), Influence(i)});
    TellStability(solution);
    if (!request_.earlier) solution.taught = Taught();
    return solution;
  }

  static std::string Sessions(std::size_t count) {
    return count == 1 ? "one session" : fmt::format("{} sessions", count);
  }

  std::vector<Solution::Taught> Taught() const {
    if (scan_ids_.empty() || !fit_.usable) return {};
    std::vector<LightState> states;
    std::vector<int> frames;
    for (int l = 0; l < static_cast<int>(request_.lights.size()); ++l) {
      states.push_back(State(l));
      frames.push_back(static_cast<int>(request_.lights[l].frames.size()));
    }
    std::vector<Solution::Taught> all = Teach(session_, fit_, request_.rolls, states, frames);
    for (Solution::Taught& taught : all) taught.lesson.source = unified_.reference;
    return all;
  }

  void AddNudge(PhotoId scan, Vec3& offset) const {
    for (std::size_t i = 0; i < scan_ids_.size(); ++i)
      if (scan_ids_[i] == scan)
        for (int c = 0; c < 3; ++c) offset[c] += fit_.nudge[i][c];
  }

  double NudgeSize(std::size_t i) const {
    const FilmSession::Scan& s = session_.scans[i];
    const Vec3 grey{look::kMidGrey, look::kMidGrey, look::kMidGrey};
    Vec3 moved = fit_.light[s.light];
    for (int c = 0; c < 3; ++c) moved[c] += fit_.nudge[i][c];
    const LookVector look = fit_.RollLook(s.roll);
    return color::Ciede2000(PredictLab(look, moved, grey), PredictLab(look, fit_.light[s.light], grey));
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
      const int roll = RollOfLight(l);
      for (const Vec3& scene : kUsualColours) {
        sum += color::Ciede2000(PredictLab(without.RollLook(roll), without.light[l], scene),
                                PredictLab(fit_.RollLook(roll), fit_.light[l], scene));
        ++count;
      }
    }
    return count > 0 ? sum / count : 0;
  }

  double Level(PhotoId id) const {
    const auto m = request_.measured.find(id);
    return m == request_.measured.end() ? std::log2(look::kMidGrey) : m->second.light.log2_level;
  }

  // Whether what is left between scan and frame has one colour on one side of the picture and another on the
  // other: light from two sources, which one correction cannot follow.
  static bool IsMixedLight(const record::Correspondence& matched, const look::Resolved& resolved) {
    constexpr double kApart = 4;  // CIELAB a*b*
    constexpr std::size_t kFewest = 25;
    for (const bool across : {true, false}) {
      std::array<std::array<std::vector<double>, 2>, 2> left;  // side, coordinate
      for (const record::Cell& cell : matched.cells) {
        const float at = across ? cell.bx : cell.by;
        if (cell.region == record::RegionKind::kMasked || (at > 0.4f && at < 0.6f)) continue;
        const Vec3 scan = LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]});
        const Vec3 frame =
            LabOfDisplay(look::Evaluate(resolved, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]}));
        if (std::hypot(scan[1], scan[2]) > 25) continue;  // strong colours differ by the look's form too
        for (int c = 0; c < 2; ++c) left[at > 0.5f][c].push_back(frame[c + 1] - scan[c + 1]);
      }
      if (left[0][0].size() < kFewest || left[1][0].size() < kFewest) continue;
      if (std::hypot(Median(left[0][0]) - Median(left[1][0]), Median(left[0][1]) - Median(left[1][1])) >
          kApart)
        return true;
    }
    return false;
  }

  // Left-overs of the frame against its scan, and reasons to look.
  void Judge(const record::Photo& photo, const record::Pair* pair, bool filmed, record::FrameSolution& f) {
    if (pair != nullptr) {
      for (const record::Correspondence& c : request_.scan_to_frame) {
        if (c.a != pair->scan || c.b != photo.id) continue;
        const double level = Level(photo.id);
        f.left_over = MeasureLeftOver(c, photo, level, look::Resolve(f.correction));
        std::string reason = ReasonAtFullFollow(c, photo, level, f.correction, request_.tolerance);
        if (!reason.empty()) f.flags.push_back(std::move(reason));
        if (IsMixedLight(c, look::Resolve(f.correction)))
          f.flags.emplace_back("mixed light: one correction does not fit both sides of the picture");
      }
      if (pair->confidence < kDoubtfulPair && !pair->by_person)
        f.flags.emplace_back("the pair with its scan is doubtful");
      if (pair->kind == record::PairKind::kLight)
        f.flags.emplace_back("paired by light only: the scan shows something else");
    }
    if (!filmed) f.flags.emplace_back("no film saw this light: the look is carried over from the others");
    const auto m = request_.measured.find(photo.id);
    if (m != request_.measured.end() && photo.encoding != record::Encoding::kRaw &&
        m->second.clipped_high > 0.03)
      f.flags.emplace_back("camera JPEG with clipped highlights: they cannot be brought back");
  }

  // Frames whose skin is far from the skin of the rest of their light.
  void FlagOutliers(Solution& solution) const {
    std::map<LightId, std::vector<std::pair<std::size_t, Vec3>>> skin;
    for (std::size_t i = 0; i < solution.frames.size(); ++i) {
      const record::FrameSolution& f = solution.frames[i];
      const auto m = request_.measured.find(f.frame);
      if (m == request_.measured.end()) continue;
      for (const record::RegionStat& r : m->second.regions)
        if (r.kind == record::RegionKind::kSkin && r.face < 0 && r.area > 0.002)
          skin[f.light].emplace_back(
              i, LabOfDisplay(look::Evaluate(look::Resolve(f.correction), r.quantiles[2])));
    }
    for (auto& [light, list] : skin) {
      if (list.size() < 4) continue;
      Vec3 middle;
      for (int c = 0; c < 3; ++c) {
        std::vector<double> v;
        for (const auto& entry : list) v.push_back(entry.second[c]);
        middle[c] = Median(v);
      }
      for (const auto& [i, lab] : list) {
        // Lightness of skin differs from face to face; chroma differences are what the eye sees across a
        // spread.
        const double d = std::hypot(lab[1] - middle[1], lab[2] - middle[2]);
        if (d > 9) solution.frames[i].flags.emplace_back("skin differs from its neighbours in this light");
      }
    }
  }

  const Request& request_;
  Cancel cancel_;
  Earlier before_ = BuiltIn();
  Unification unified_;
  FilmSession session_;
  FilmFit fit_;
  std::vector<PhotoId> scan_ids_;
  std::set<int> filmed_;
  std::unordered_map<PhotoId, const record::Photo*> photo_;
  std::unordered_map<PhotoId, const record::Pair*> pair_of_scan_;
  std::unordered_map<PhotoId, int> roll_of_scan_;
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
