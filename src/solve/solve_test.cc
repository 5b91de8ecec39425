// Synthetic truth: an invented session with a known film rendering, known pairs, noise and wrong evidence.
// The rendering used as truth shares no equations with the look (hyperbolic tangent curves on densities,
// subtractive mixing).
#include <Eigen/Dense>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "color/difference.h"
#include "look/evaluate.h"
#include "solve/film_fit.h"
#include "solve/graph.h"
#include "solve/left_over.h"
#include "solve/light_rule.h"
#include "solve/solve.h"
#include "solve/source_relation.h"
#include "solve/testing.h"
#include "solve/unify.h"

namespace samelight::solve {
namespace {

// Mean CIEDE2000 over the frames of lights [first, last) between the solution and the invented film without
// nudge.
double MeanError(const Truth& t, const Solution& s, int first, int last) {
  double sum = 0;
  long n = 0;
  for (const record::FrameSolution& f : s.frames) {
    if (f.light.value < first || f.light.value >= last) continue;
    const look::Resolved r = look::Resolve(f.correction);
    const record::Photo& p = *std::find_if(t.request.photos.begin(), t.request.photos.end(),
                                           [&](const record::Photo& q) { return q.id == f.frame; });
    const Mat3& camera = p.raw.rec2020_from_camera;
    const Vec3 gain{p.raw.as_shot[0] / 2.0, 1, p.raw.as_shot[2] / 1.5};
    for (const Vec3& x : t.scene.at(f.frame)) {
      Vec3 y = Mul(camera, Mul(Diagonal(gain), Mul(Inverse(camera), x)));
      for (double& v : y) v *= std::pow(10.0, t.exposure.at(f.frame));
      sum += color::Ciede2000(LabOfDisplay(look::Evaluate(r, y)),
                              LabOfDisplay(InventedFilm(x, t.printer.at(f.frame))));
      ++n;
    }
  }
  return sum / static_cast<double>(n);
}

Solution Solve(const Truth& t) {
  SilentProgress progress;
  Result<Solution> s = SolveSession(t.request, progress, Cancel());
  EXPECT_TRUE(s.ok());
  return std::move(s).value();
}

TEST(Solve, ComesBackToAKnownFilm) {
  for (unsigned seed : {11u, 12u, 13u}) {
    const Truth t = MakeTruth({.seed = seed});
    const double error = MeanError(t, Solve(t), 0, 3);
    std::printf("filmed lights, seed %u: %.2f\n", seed, error);
    EXPECT_LT(error, 2.6);
  }
}

TEST(Solve, WrongCellsDoNotWreckALight) {
  const double clean = MeanError(MakeTruth({.seed = 21}), Solve(MakeTruth({.seed = 21})), 0, 3);
  for (double share : {0.2, 0.4}) {
    const Truth t = MakeTruth({.seed = 21, .wrong_cells = share});
    const double error = MeanError(t, Solve(t), 0, 3);
    std::printf("%.0f %% wrong cells: %.2f (clean %.2f)\n", 100 * share, error, clean);
    EXPECT_LT(error, clean + 1.2);
  }
}

TEST(Solve, AWrongPairDoesNotWreckALight) {
  const double clean = MeanError(MakeTruth({.seed = 22}), Solve(MakeTruth({.seed = 22})), 0, 1);
  const Truth t = MakeTruth({.seed = 22, .one_wrong_pair = true});
  const double error = MeanError(t, Solve(t), 0, 1);
  std::printf("one wrong pair of three in its light: %.2f (clean %.2f)\n", error, clean);
  EXPECT_LT(error, clean + 1.5);
}

// Printed far too magenta, as no lab's nudge is (a third of a stop between layers): the light goes with the
// others.
TEST(Solve, AnOddlyPrintedScanDoesNotPullItsLight) {
  for (unsigned seed : {24u, 25u}) {
    Options o{.seed = seed, .scans_per_light = 4};
    const Truth even = MakeTruth(o);
    o.odd_scan = {0.12, -0.06, 0.12};
    const Truth odd = MakeTruth(o);
    const double clean = MeanError(even, Solve(even), 0, 1), error = MeanError(odd, Solve(odd), 0, 1);
    std::printf("one of four scans printed magenta, seed %u: %.2f (clean %.2f)\n", seed, error, clean);
    EXPECT_LT(error, clean + 0.6);
  }
}

// CIELAB lightness of a mid-grey in the first frame.
double GreyOfFirst(const Solution& s) {
  return LabOfDisplay(look::Evaluate(look::Resolve(s.frames.front().correction),
                                     {look::kMidGrey, look::kMidGrey, look::kMidGrey}))[0];
}

TEST(Solve, APairThatIsHardlyBelievedHardlyCounts) {
  for (unsigned seed : {26u, 28u}) {
    std::array<double, 2> moved{};
    for (const bool doubtful : {false, true}) {
      Options o{.seed = seed, .lights = 3, .filmed = 2, .scans_per_light = 2, .nudge = 0.005};
      o.odd_confidence = doubtful ? 0.1 : 0.95;
      const double even = GreyOfFirst(Solve(MakeTruth(o)));
      o.odd_scan = {0.06, 0.06, 0.06};
      moved[doubtful] = GreyOfFirst(Solve(MakeTruth(o))) - even;
    }
    EXPECT_GT(moved[0], 0.4) << "one of two scans printed light moves its light when the pair is sure";
    EXPECT_LT(moved[1], 0.4 * moved[0]) << "seed " << seed;
  }
}

TEST(Solve, ExposureErrorsOfFramesAreTakenOut) {
  const Truth t = MakeTruth({.seed = 31});
  const Solution s = Solve(t);
  for (int l = 0; l < 4; ++l) {
    double mean = 0, square = 0;
    int n = 0;
    for (const record::FrameSolution& f : s.frames) {
      if (f.light.value != l) continue;
      const double v = f.correction.unify.exposure_log10 + t.exposure.at(f.frame);
      mean += v;
      square += v * v;
      ++n;
    }
    mean /= n;
    EXPECT_LT(std::sqrt(square / n - mean * mean), 0.02) << "light " << l;  // log10; a fifteenth of a stop
  }
}

TEST(Solve, ALightWithoutFilmIsFlaggedAndLessCertain) {
  const Truth t = MakeTruth({.seed = 41});
  const Solution s = Solve(t);
  double filmed = 0, bare = 0;
  for (const record::FrameSolution& f : s.frames) {
    (f.light.value < 3 ? filmed : bare) = f.uncertainty.skin;
    if (f.light.value == 3) {
      EXPECT_TRUE(std::any_of(f.flags.begin(), f.flags.end(), [](const record::Flag& flag) {
        return flag.kind == record::FlagKind::kNoFilm;
      }));
    }
  }
  EXPECT_GT(bare, filmed);
  EXPECT_GT(filmed, 0);
}

TEST(Solve, ALightThatDriftsIsFollowed) {
  Options o;
  o.lights = o.filmed = 2;
  o.frames_per_light = 9;
  o.scans_per_light = 5;
  o.drift = 0.03;
  const Solution s = Solve(MakeTruth(o));
  const auto warmth = [&](std::size_t i) {
    return s.frames[i].correction.offset_log10[0] - s.frames[i].correction.offset_log10[2];
  };
  const double last = static_cast<double>(o.frames_per_light) - 1;
  EXPECT_NEAR(warmth(static_cast<std::size_t>(last)) - warmth(0), 4 * o.drift, 1.5 * o.drift);
  o.drift = 0;
  const Solution steady = Solve(MakeTruth(o));
  EXPECT_NEAR(steady.frames[8].correction.offset_log10[0] - steady.frames[0].correction.offset_log10[0], 0,
              0.003);
}

TEST(Solve, LikeRegionsTellOfALightWithoutMatchedPlaces) {
  double with = 0, without = 0;
  for (const unsigned seed : {1u, 2u, 3u, 4u, 5u, 6u}) {
    Options o;
    o.seed = seed;
    o.like_regions = true;
    Truth t = MakeTruth(o);
    const int first = o.filmed - 1;
    const double a = MeanError(t, Solve(t), first, o.filmed);
    for (const record::Pair& pair : t.request.pairs) t.request.measured[pair.scan].regions.clear();
    const double b = MeanError(t, Solve(t), first, o.filmed);
    std::printf("with %.2f, without %.2f\n", a, b);
    with += a / 6;
    without += b / 6;
  }
  EXPECT_LT(with, 0.95 * without);
}

TEST(Solve, EveryHandleHasItsSpread) {
  const Truth t = MakeTruth({});
  const Solution s = Solve(t);
  const record::Handles filmed = s.frames.front().uncertainty.handles,
                        bare = s.frames.back().uncertainty.handles;
  for (const auto field :
       {&record::Handles::exposure_ev, &record::Handles::warmth_mired, &record::Handles::green_magenta,
        &record::Handles::gamma, &record::Handles::toe, &record::Handles::shoulder,
        &record::Handles::black_density, &record::Handles::chroma}) {
    EXPECT_GT(filmed.*field, 0);
    EXPECT_LE(filmed.*field, 1.05 * bare.*field);
  }
  EXPECT_LT(filmed.exposure_ev, 0.5 * bare.exposure_ev);
  EXPECT_LT(s.frames.front().uncertainty.skin, 0.5 * s.frames.back().uncertainty.skin);
  EXPECT_LT(filmed.gamma, 0.2);  // a third of what is believed of a film before one is seen
  for (const record::HueBump& hue : filmed.hues) EXPECT_GT(hue.hue_deg, 0);
}

// A ramp of a grey surface through solved corrections: rises everywhere without a step, keeps the film's own
// greys, and is not white anywhere that the film is not.
TEST(Solve, RampsRiseEvenlyAndGreysAreTheFilms) {
  for (const unsigned seed : {31U, 32U, 33U}) {
    Options o;
    o.seed = seed;
    const Truth t = MakeTruth(o);
    const Solution s = Solve(t);
    for (const record::FrameSolution& f : s.frames) {
      if (f.frame.value % o.frames_per_light != 0) continue;  // one of each light
      record::Correction c = f.correction;
      const bool filmed = f.light.value < o.filmed;
      c.unify = {};  // from the light's common reference on
      c.unify.exposure_log10 = f.correction.unify.exposure_log10 + t.exposure.at(f.frame);
      const look::Resolved resolved = look::Resolve(c);
      Vec3 before{0, 0, 0};
      double steepest = 0, off = 0;
      int greys = 0, white = 0, film_white = 0;
      for (int i = 1; i <= 2000; ++i) {
        const double v = 0.002 * std::pow(400.0, i / 2000.0);  // to 0.8
        const Vec3 shown = look::Evaluate(resolved, {v, v, v});
        const Vec3 film = InventedFilm({v, v, v}, t.printer.at(f.frame));
        for (int k = 0; k < 3; ++k) {
          const double encoded = std::pow(std::clamp(shown[k], 0.0, 1.0), 1 / 2.4);
          EXPECT_GE(encoded, before[k] - 1e-9);
          if (i > 1) steepest = std::max(steepest, encoded - before[k]);
          before[k] = encoded;
        }
        white += std::max({shown[0], shown[1], shown[2]}) > 0.995;
        film_white += std::max({film[0], film[1], film[2]}) > 0.995;
        if (v < 0.02) continue;  // surfaces of the session
        const Vec3 a = LabOfDisplay(shown), b = LabOfDisplay(film);
        off += std::hypot(a[1] - b[1], a[2] - b[2]);
        ++greys;
      }
      EXPECT_LT(steepest, 4.0 / 2000);  // no band: the whole ramp rises by less than 1
      EXPECT_LE(white, film_white + 20);
      if (filmed) EXPECT_LT(off / greys, 2.0);
    }
  }
}

TEST(Solve, WithoutAnyScanFramesAreStillEven) {
  const Truth t = MakeTruth({.seed = 51, .filmed = 0});
  const Solution s = Solve(t);
  EXPECT_EQ(s.frames.size(), 32u);
  EXPECT_FALSE(s.notes.empty());
  for (const record::FrameSolution& f : s.frames)
    for (double v : look::Evaluate(look::Resolve(f.correction), {0.2, 0.2, 0.2}))
      EXPECT_TRUE(std::isfinite(v));
}

TEST(Solve, NoFramesIsSaidPlainly) {
  SilentProgress progress;
  const Result<Solution> s = SolveSession(Request{}, progress, Cancel());
  ASSERT_FALSE(s.ok());
  EXPECT_EQ(s.error().code, ErrorCode::kNothingToDo);
}

// What a frame shows, for tests of pictures' levels: one grey region at the levels of its scene.
void AddGreyRegions(Truth& t) {
  for (auto& [id, scene] : t.scene) {
    std::vector<double> levels;
    for (const Vec3& x : scene) levels.push_back(x[1] * std::pow(10.0, t.exposure.at(id)));
    std::sort(levels.begin(), levels.end());
    record::RegionStat region;
    region.kind = record::RegionKind::kNeutral;
    region.area = 1;
    for (std::size_t q = 0; q < 5; ++q) {
      const double v = levels[(2 * q + 1) * levels.size() / 10];
      region.quantiles[q] = {v, v, v};
    }
    t.request.measured[id].regions = {region};
  }
}

const record::FrameSolution& Of(const Solution& s, PhotoId frame) {
  return *std::find_if(s.frames.begin(), s.frames.end(),
                       [&](const record::FrameSolution& f) { return f.frame == frame; });
}

// Exposure data a stop off, and nothing matched to tell so: the program must not be sure of it.
TEST(Solve, AFrameThatNothingTiesSaysHowUnsureItIs) {
  Truth t = MakeTruth({.seed = 61});
  AddGreyRegions(t);
  const PhotoId untied = t.request.lights[0].frames[5], tied = t.request.lights[0].frames[3];
  std::erase_if(t.request.frame_to_frame,
                [&](const record::Correspondence& c) { return c.a == untied || c.b == untied; });
  for (record::Photo& p : t.request.photos)
    if (p.id == untied) *p.capture.exposure_time_s *= 4;  // two stops
  const Solution s = Solve(t);
  const double sure = Of(s, tied).uncertainty.handles.exposure_ev,
               unsure = Of(s, untied).uncertainty.handles.exposure_ev;
  EXPECT_LT(sure, 0.25);
  EXPECT_GT(unsure, 0.4);
  EXPECT_GT(Of(s, untied).uncertainty.skin, 2 * Of(s, tied).uncertainty.skin);
  EXPECT_FALSE(Of(s, untied).flags.empty());
  EXPECT_TRUE(Of(s, tied).flags.empty());
}

TEST(Solve, ACameraJpegIsLessCertain) {
  Truth t = MakeTruth({.seed = 62});
  const PhotoId jpeg = t.request.lights[1].frames[3], raw = t.request.lights[1].frames[4];
  for (record::Photo& p : t.request.photos)
    if (p.id == jpeg) p.encoding = record::Encoding::kJpeg;
  const Solution s = Solve(t);
  EXPECT_GT(Of(s, jpeg).uncertainty.neutral, 1.15 * Of(s, raw).uncertainty.neutral);
  EXPECT_GT(Of(s, jpeg).uncertainty.handles.warmth_mired, Of(s, raw).uncertainty.handles.warmth_mired);
}

// One scene in one light, balanced differently by the camera, its matrix mixed for each white: the same after
// unification.
TEST(Unify, FramesOfOneLightAreOneWhateverTheCameraBalanced) {
  const Vec3 whites[] = {{2.0, 1, 1.5}, {1.7, 1, 1.9}};
  const Mat3 matrices[] = {{{{1.25, -0.20, -0.05}, {-0.12, 1.22, -0.10}, {0.02, -0.22, 1.20}}},
                           {{{1.45, -0.30, -0.15}, {-0.10, 1.30, -0.20}, {0.05, -0.35, 1.30}}}};
  Request request;
  record::Light light;
  light.id = {0};
  for (int i = 0; i < 2; ++i) {
    record::Photo p;
    p.id = {i};
    p.role = record::Role::kFrame;
    p.encoding = record::Encoding::kRaw;
    p.raw.as_shot = whites[i];
    p.raw.rec2020_from_camera = p.raw.rec2020_from_daylight = matrices[i];
    p.capture.exposure_time_s = 0.01;
    p.capture.aperture = 4;
    p.capture.iso = 400;
    light.frames.push_back(p.id);
    request.photos.push_back(p);
  }
  request.lights = {light};
  const Unification unified = UnifyFrames(request);
  for (const Vec3& sensor : {Vec3{0.1, 0.2, 0.15}, Vec3{0.02, 0.2, 0.03}, Vec3{0.2, 0.05, 0.02}}) {
    Vec3 scene[2];
    for (int i = 0; i < 2; ++i) {
      record::Correction c;
      c.unify = unified.frames.at({i});
      scene[i] = look::Unified(look::Resolve(c), Mul(matrices[i], Mul(Diagonal(whites[i]), sensor)));
    }
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(scene[0][c], scene[1][c], 1e-9);
  }
}

TEST(Graph, SpreadIsThatOfTheGaussian) {
  const std::vector<GraphPrior> priors(2, {0, 1});
  // Of two independent numbers of deviation 1, one less their mean: sqrt(1/2).
  const std::vector<double> apart = SpreadInGroup(priors, {}, {0, 0}, {0, 0});
  EXPECT_NEAR(apart[0], std::sqrt(0.5), 1e-12);
  // Their difference, of variance 2, measured with 0.1: 1 / (1/2 + 100); half of it is one less the mean.
  const std::vector<double> tied = SpreadInGroup(priors, {{0, 1, 0, 0.1}}, {0, 0}, {0, 0});
  EXPECT_NEAR(tied[0], 0.5 * std::sqrt(1 / 100.5), 1e-12);
  EXPECT_NEAR(tied[1], tied[0], 1e-12);
}

TEST(Graph, OutliersDoNotPull) {
  std::vector<GraphPrior> priors(5, {0, 10});
  priors[0].sigma = 1e-3;
  std::vector<GraphEdge> edges;
  for (int i = 0; i < 5; ++i)
    for (int j = i + 1; j < 5; ++j) edges.push_back({i, j, 0.1 * (j - i), 0.01});
  edges.push_back({0, 4, 3.0, 0.01});
  const std::vector<double> x = SolveGraph(priors, edges);
  for (int i = 0; i < 5; ++i) EXPECT_NEAR(x[i], 0.1 * i, 0.01);
}

// An invented camera rendering (power curve with a shoulder, chroma boost) is undone.
TEST(SourceRelation, InvertsACameraRendering) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> u(0, 1);
  const Mat3 boost{{{1.25, -0.2, -0.05}, {-0.12, 1.2, -0.08}, {-0.04, -0.21, 1.25}}};
  std::vector<RelationSample> samples;
  for (int i = 0; i < 3000; ++i) {
    const double level = std::pow(10.0, -2 + 2 * u(random)) * 0.7;
    const Vec3 scene{level * (1 + 0.3 * (u(random) - 0.5)), level, level * (1 + 0.3 * (u(random) - 0.5))};
    RelationSample s;
    s.reference = scene;
    s.group = i % 4;
    Vec3 x = Mul(boost, scene);
    for (int c = 0; c < 3; ++c) {
      const double v = std::max(x[c], 1e-5) * std::pow(10.0, 0.05 * (s.group - 1.5));
      s.source[c] = std::pow(v * 1.6 / (1 + 0.6 * v), 1.25);
      if (i % 10 == 0) s.source[c] *= 0.3 + u(random);  // wrong matches
    }
    if (std::max({s.source[0], s.source[1], s.source[2]}) < 0.95) samples.push_back(s);
  }
  const SourceRelation r = FitRelation(true, samples, 4, 0.1);
  ASSERT_TRUE(r.fitted);
  std::printf("median residual %.4f log10\n", r.residual_log10);
  EXPECT_LT(r.residual_log10, 0.02);
}

// Invented lights.
std::vector<FilmedLight> RuledLights(double level_of_dim) {
  std::mt19937 random(8);
  std::normal_distribution<double> normal;
  std::vector<FilmedLight> lights;
  for (int i = 0; i < 12; ++i) {
    FilmedLight l;
    l.state.frames = 20;
    l.state.level_log10 = -0.8 + 0.3 * normal(random);
    l.state.brightness_log10 = i < 6 ? 2.2 + 0.2 * normal(random) : -0.3 + 0.2 * normal(random);
    const double g = 0.03 * normal(random), k = 0.1 * normal(random);
    l.state.grey_log10 = {g, 0, -g};
    l.state.cast_log10 = {k, 0, -k};
    for (int c = 0; c < 3; ++c)
      l.offset[c] = 0.6 + (i < 6 ? 0 : level_of_dim) - 0.55 * (l.state.level_log10 + 1.05) -
                    0.3 * std::abs(k) - 0.4 * l.state.grey_log10[c] + 0.35 * l.state.cast_log10[c] +
                    0.005 * normal(random);
    l.rolls = {i < 6 ? 0 : 1};
    lights.push_back(l);
  }
  return lights;
}

// What two sessions on the invented film teach.
record::LearnedLook LookOfTwoSessions() {
  std::vector<record::Lesson> lessons;
  for (const unsigned seed : {61u, 62u}) {
    const Solution solution = Solve(MakeTruth({.seed = seed}));
    EXPECT_EQ(solution.taught.size(), 1u);
    lessons.push_back(solution.taught.front().lesson);
    EXPECT_GT(lessons.back().scans, 5);
    EXPECT_EQ(lessons.back().lights, 3);
  }
  record::LearnedLook look = Merge(std::move(lessons));
  look.name = "invented film";
  return look;
}

TEST(Earlier, ALearnedLookServesASessionWithoutFilm) {
  const record::LearnedLook look = LookOfTwoSessions();
  for (const unsigned seed : {63u, 64u}) {
    Truth t = MakeTruth({.seed = seed, .filmed = 0});
    const double without = MeanError(t, Solve(t), 0, 4);
    t.request.earlier = look;
    const Solution solution = Solve(t);
    const double with = MeanError(t, solution, 0, 4);
    std::printf("no film, seed %u: %.2f without, %.2f with a look of two other sessions\n", seed, without,
                with);
    EXPECT_LT(with, 0.75 * without);
    EXPECT_TRUE(solution.taught.empty());  // what a look contributed is not taught again
    EXPECT_EQ(solution.frames.front().look, "invented film");
  }
}

std::vector<PhotoId> ScansOf(const Truth& t, std::size_t light) {
  const std::vector<PhotoId>& frames = t.request.lights[light].frames;
  std::vector<PhotoId> scans;
  for (const record::Pair& pair : t.request.pairs)
    if (std::find(frames.begin(), frames.end(), pair.frame) != frames.end()) scans.push_back(pair.scan);
  return scans;
}

// Synthetic truth: the last filmed light is printed far off all others, as film under coloured lamps is. Its
// scans tell that light, and the others are what they are without them.
TEST(ColouredLamps, TellTheirOwnLightOnly) {
  for (const unsigned seed : {71u, 72u}) {
    Truth t = MakeTruth({.seed = seed, .lights = 5, .filmed = 4, .odd_light = {0.25, 0.02, -0.3}});
    const std::vector<PhotoId> odd = ScansOf(t, 3);
    ASSERT_FALSE(odd.empty());
    t.request.barred = odd;
    const Solution barred = Solve(t);
    t.request.barred.clear();
    t.request.own_light_only = odd;
    const Solution apart = Solve(t);
    const double own = MeanError(t, apart, 3, 4), without = MeanError(t, barred, 3, 4);
    std::printf("coloured lamps, seed %u: %.2f, barred %.2f\n", seed, own, without);
    EXPECT_LT(own, 3);
    EXPECT_GT(without, 8);
    ASSERT_EQ(apart.frames.size(), barred.frames.size());
    for (std::size_t i = 0; i < apart.frames.size(); ++i) {
      if (apart.frames[i].light.value == 3) continue;
      for (int c = 0; c < 3; ++c)
        EXPECT_NEAR(apart.frames[i].correction.offset_log10[c], barred.frames[i].correction.offset_log10[c],
                    1e-3);
    }
    ASSERT_EQ(apart.taught.size(), 1u);
    EXPECT_EQ(apart.taught[0].lesson.lights, 3);
  }
}

// With no other film the look stays what was believed.
TEST(ColouredLamps, AloneTellNothing) {
  Truth t = MakeTruth({.seed = 73, .filmed = 1});
  t.request.own_light_only = ScansOf(t, 0);
  ASSERT_FALSE(t.request.own_light_only.empty());
  const Solution solution = Solve(t);
  EXPECT_TRUE(solution.taught.empty());
  EXPECT_EQ(solution.frames.size(), t.scene.size());
}

TEST(Earlier, ALearnedLookHelpsASessionWithOneScan) {
  const record::LearnedLook look = LookOfTwoSessions();
  for (const unsigned seed : {63u, 64u}) {
    Truth t = MakeTruth({.seed = seed, .filmed = 1, .scans_per_light = 1});
    const Solution plain = Solve(t);
    t.request.earlier = look;
    const Solution told = Solve(t);
    std::printf("one scan, seed %u: its light %.2f without, %.2f with; the others %.2f without, %.2f with\n",
                seed, MeanError(t, plain, 0, 1), MeanError(t, told, 0, 1), MeanError(t, plain, 1, 4),
                MeanError(t, told, 1, 4));
    EXPECT_LT(MeanError(t, told, 0, 4), MeanError(t, plain, 0, 4));
    EXPECT_LT(MeanError(t, told, 0, 1), MeanError(t, plain, 0, 1) + 0.2);
  }
}

// Synthetic truth: the same invented film, printed as before, and two stops lighter and darker.
TEST(Earlier, ALabThatPrintsUnlikeTheLookIsTold) {
  const record::LearnedLook look = LookOfTwoSessions();
  for (const unsigned seed : {63u, 64u})
    for (const double lab : {0.0, 0.6, -0.6}) {
      Truth t = MakeTruth({.seed = seed, .lights = 4, .filmed = 4, .scans_per_light = 2, .lab = lab});
      t.request.earlier = look;
      std::string told;
      for (const std::string& note : Solve(t).notes)
        if (note.find("than the look 'invented film' foretells") != std::string::npos) told = note;
      EXPECT_EQ(told.find("lighter") != std::string::npos, lab > 0) << told;
      EXPECT_EQ(told.find("darker") != std::string::npos, lab < 0) << told;
    }
}

// A lesson about numbers `at`, each known to `sigma`.
record::Lesson LessonAt(double at, double sigma) {
  // A look whose numbers all lie `at` built-in deviations from their built-in means.
  record::Lesson lesson;
  lesson.lights = 1;
  lesson.level_sigma = lesson.colour_sigma = 0.1;
  const LookVector mean = LookPriorMean(), spread = LookPriorSigma();
  // The posterior under the built-in belief of an observation `at` with deviation `sigma`.
  Eigen::MatrixXd information =
      Eigen::Map<const Eigen::MatrixXd>(BuiltIn().look.information.data(), kLookSize, kLookSize);
  Eigen::VectorXd pull(kLookSize);
  for (int i = 0; i < kLookSize; ++i) {
    const double observed = 1 / (sigma * sigma * spread[i] * spread[i]);
    information(i, i) += observed;
    pull[i] = observed * at * spread[i];
  }
  const Eigen::MatrixXd covariance = information.inverse();
  const Eigen::VectorXd moved = covariance * pull;
  for (int i = 0; i < kLookSize; ++i) {
    lesson.look.mean.push_back(mean[i] + moved[i]);
    for (int k = 0; k <= i; ++k) lesson.look.covariance.push_back(covariance(i, k));
  }
  lesson.rule = LightRule({}, BuiltInRule()).Taught();
  return lesson;
}

TEST(Earlier, MergingTakesTheSpreadBetweenSessions) {
  const double spread = LookPriorSigma()[kLayerStart], mean = LookPriorMean()[kLayerStart];
  const auto at = [&](const record::LearnedLook& look) {
    return (look.look.mean[kLayerStart] - mean) / spread;
  };
  const auto sigma = [&](const record::LearnedLook& look) { return look.look.Sigma(kLayerStart) / spread; };
  const record::LearnedLook one = Merge({LessonAt(0.6, 0.05)});
  const record::LearnedLook alike = Merge({LessonAt(0.6, 0.05), LessonAt(0.6, 0.05), LessonAt(0.6, 0.05)});
  const record::LearnedLook apart = Merge({LessonAt(-0.2, 0.05), LessonAt(0.6, 0.05), LessonAt(1.4, 0.05)});
  // Sessions that agree are followed nearly all the way, with less spread than one alone; sessions that do
  // not give a wide belief around their middle.
  EXPECT_NEAR(at(alike), 0.6, 0.06);
  EXPECT_LT(sigma(alike), sigma(one));
  EXPECT_NEAR(at(apart), 0.6, 0.15);
  EXPECT_GT(sigma(apart), 2 * sigma(alike));
  EXPECT_GT(apart.look_between, 0.5);
  EXPECT_LT(alike.look_between, 0.25);
  // A lesson that knows nothing leaves what is built in, and one session never claims to be certain of the
  // next.
  const record::LearnedLook nothing = Merge({LessonAt(3, 100)});
  EXPECT_NEAR(at(nothing), 0, 0.01);
  EXPECT_GT(sigma(nothing), 0.95);
  EXPECT_GT(sigma(one), 0.1);
}

TEST(LightRule, LearnsFromFilmedLights) {
  const record::Belief taught = LightRule(RuledLights(0), BuiltInRule()).Taught();
  EXPECT_NEAR(taught.mean[0] - taught.mean[1] * -1.05, 0.6, 0.1);  // at the usual level
  EXPECT_NEAR(taught.mean[1], 0.55, 0.06);
  EXPECT_NEAR(taught.mean[2], 0.3, 0.12);
  EXPECT_NEAR(taught.mean[7], 0.35, 0.05);
  const record::Belief before = LightRule({}, BuiltInRule()).Taught();
  for (const int i : {1, 2, 7}) EXPECT_LT(taught.Sigma(i), before.Sigma(i));
}

// Film for dim places printed a third of a stop darker: a light is told by its like, and the belief is as
// wide as it errs.
TEST(LightRule, FilmForDimPlacesIsAnotherFilm) {
  const std::vector<FilmedLight> all = RuledLights(-0.1);
  double square = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    std::vector<FilmedLight> others = all;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
    const LightRule rule(others, BuiltInRule());
    const OffsetPrior belief = rule.For(all[i].state);
    double d = 0;
    for (int c = 0; c < 3; ++c) d += (belief.mean[c] - all[i].offset[c]) / 3;
    EXPECT_LT(std::abs(d), 0.03);
    square += d * d / (belief.level_sigma * belief.level_sigma) / static_cast<double>(all.size());
    // One scan on the same film weighs more than many on the other.
    std::vector<LightState> scans(9, all[i < 6 ? 7 : 1].state);
    scans.push_back(all[i < 6 ? 1 : 7].state);
    EXPECT_GT(rule.PartsInFilm(all[i].state, scans).back(), 0.5);
  }
  EXPECT_LT(square, 2);
}

// Without film what was believed before comes back, as wide as sessions differ.
TEST(LightRule, WithoutFilmIsWhatWasBelieved) {
  LightState l;
  l.level_log10 = record::kUsualLevel;
  const OffsetPrior belief = LightRule({}, BuiltInRule()).For(l);
  EXPECT_NEAR(belief.mean[1], 0.64, 1e-9);
  EXPECT_GT(belief.level_sigma, 0.1);
  // Common practice: the evening prints darker.
  l.brightness_log10 = 2;
  const double noon = LightRule({}, BuiltInRule()).For(l).mean[1];
  l.brightness_log10 = -0.8;
  EXPECT_LT(LightRule({}, BuiltInRule()).For(l).mean[1], noon - 0.1);
}

}  // namespace
}  // namespace samelight::solve
