// Synthetic truth: an invented session with a known film rendering, known pairs, noise and wrong evidence.
// The rendering used as truth shares no equations with the look (hyperbolic tangent curves on densities,
// subtractive mixing).
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

namespace samelight::solve {
namespace {

// Invented film: log exposure, inter-layer mixing on densities, tanh curve, display-linear BT.2020.
Vec3 InventedFilm(const Vec3& scene, const Vec3& printer_log10) {
  static constexpr double kMix[3][3] = {{1.10, -0.07, -0.03}, {-0.05, 1.12, -0.07}, {-0.02, -0.10, 1.12}};
  Vec3 density;
  for (int c = 0; c < 3; ++c)
    density[c] =
        std::tanh(0.55 * (std::log10(std::max(scene[c], 1e-5) / 0.18) + printer_log10[c] + 0.04 * (c - 1)));
  Vec3 out;
  for (int c = 0; c < 3; ++c) {
    double d = 0;
    for (int k = 0; k < 3; ++k) d += kMix[c][k] * density[k];
    out[c] = std::pow(10.0, -0.95 + 1.9 * std::tanh(1.25 * d) * (d > 0 ? 0.48 : 0.72));
  }
  return out;
}

struct Truth {
  Request request;
  std::unordered_map<PhotoId, Vec3> printer;     // of the frame's light, by frame
  std::unordered_map<PhotoId, double> exposure;  // of the frame, log10
  std::unordered_map<PhotoId, std::vector<Vec3>> scene;
};

struct Options {
  unsigned seed = 1;
  int lights = 4, filmed = 3, frames_per_light = 8, scans_per_light = 3;
  double wrong_cells = 0;
  bool one_wrong_pair = false;
  double nudge = 0.02;
  double drift = 0;  // log10 of red over blue, from the middle of a light to its end; the film takes it back
  bool like_regions = false;  // the last filmed light: nothing matched, the same kinds of things seen
};

// What the cells show, as regions of the scan and of the frame: three kinds of ten cells each.
void AddRegions(const record::Correspondence& c, Request& request) {
  using record::RegionKind;
  std::size_t k = 0;
  for (const RegionKind kind : {RegionKind::kSkin, RegionKind::kFoliage, RegionKind::kNeutral}) {
    record::RegionStat scan, frame;
    scan.kind = frame.kind = kind;
    scan.area = frame.area = 0.1;
    for (std::size_t q = 0; q < 5; ++q, ++k)
      for (int i = 0; i < 3; ++i) {
        scan.quantiles[q][i] = c.cells[k].a_rgb[i];
        frame.quantiles[q][i] = c.cells[k].b_rgb[i];
      }
    request.measured[c.a].regions.push_back(scan);
    request.measured[c.b].regions.push_back(frame);
  }
}

// Frames of one body, as-shot whites that err by 4 %, exposures that err by a stop, cells of 120 random
// colours per picture.
Truth MakeTruth(const Options& o) {
  std::mt19937 random(o.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> u(0, 1);
  Truth t;
  const Mat3 camera{{{1.25, -0.20, -0.05}, {-0.12, 1.22, -0.10}, {0.02, -0.22, 1.20}}};
  std::int64_t next = 0;
  t.request.rolls.resize(1);
  t.request.rolls[0].id = {0};
  t.request.rolls[0].name = "roll A";
  for (int l = 0; l < o.lights; ++l) {
    record::Light light;
    light.id = {l};
    const Vec3 printer{0.05 * normal(random), 0.03 * normal(random), 0.05 * normal(random)};
    std::vector<Vec3> scene;  // the surfaces of this light
    for (int i = 0; i < 120; ++i) {
      const double level = 0.02 + 0.75 * std::pow(u(random), 1.6), s = 0.35 * u(random),
                   h = 6.2832 * u(random);
      scene.push_back({level * (1 + s * std::cos(h)), level * (1 + s * std::cos(h - 2.1)),
                       level * (1 + s * std::cos(h + 2.1))});
    }
    std::vector<PhotoId> frames;
    for (int i = 0; i < o.frames_per_light; ++i) {
      record::Photo p;
      p.id = {next++};
      p.role = record::Role::kFrame;
      p.encoding = record::Encoding::kRaw;
      p.raw.rec2020_from_camera = camera;
      const double place = 2.0 * i / (o.frames_per_light - 1) - 1;
      p.raw.as_shot = {2.0 * std::exp(0.04 * normal(random)), 1, 1.5 * std::exp(0.04 * normal(random))};
      p.raw.as_shot[0] *= std::pow(10.0, 3 * o.drift * place);
      p.raw.as_shot[2] /= std::pow(10.0, 3 * o.drift * place);
      const double e = 0.15 * normal(random);
      p.capture.exposure_time_s = 0.01 * std::pow(10.0, e + 0.05 * normal(random));
      p.capture.aperture = 4;
      p.capture.iso = 400;
      t.exposure[p.id] = e;
      t.printer[p.id] = {printer[0] + o.drift * place, printer[1], printer[2] - o.drift * place};
      t.scene[p.id] = scene;
      record::Measured m;
      m.light.log2_level = std::log2(0.1) + e / 0.30103;
      t.request.measured[p.id] = m;
      frames.push_back(p.id);
      t.request.photos.push_back(p);
    }
    light.frames = frames;
    const auto seen = [&](PhotoId id, const Vec3& x,
                          float out[3]) {  // as decoded at the frame's own white and exposure
      const record::Photo& p = *std::find_if(t.request.photos.begin(), t.request.photos.end(),
                                             [&](const record::Photo& q) { return q.id == id; });
      const Vec3 gain{p.raw.as_shot[0] / 2.0, 1, p.raw.as_shot[2] / 1.5};
      const Vec3 y = Mul(camera, Mul(Diagonal(gain), Mul(Inverse(camera), x)));
      for (int c = 0; c < 3; ++c)
        out[c] = static_cast<float>(y[c] * std::pow(10.0, t.exposure[id]) * std::exp(0.02 * normal(random)));
    };
    for (std::size_t i = 0; i + 1 < frames.size(); ++i) {
      record::Correspondence c;
      c.a = frames[i];
      c.b = frames[i + 1];
      for (int k = 0; k < 120; k += 2) {
        record::Cell cell;
        seen(c.a, scene[k], cell.a_rgb);
        seen(c.b, scene[k], cell.b_rgb);
        c.cells.push_back(cell);
      }
      t.request.frame_to_frame.push_back(c);
    }
    for (int s = 0; l < o.filmed && s < o.scans_per_light; ++s) {
      record::Photo p;
      p.id = {1000 + 10 * l + s};
      p.role = record::Role::kScan;
      t.request.photos.push_back(p);
      t.request.rolls[0].scans.push_back(p.id);
      const PhotoId frame = frames[static_cast<std::size_t>(s * 2)];
      Vec3 nudged = t.printer[frame];
      const double level = o.nudge * normal(random);
      for (double& v : nudged) v += level + 0.5 * o.nudge * normal(random);
      t.request.pairs.push_back({p.id, frame, record::PairKind::kMoment, 0.95, false, {}});
      record::Correspondence c;
      c.a = p.id;
      c.b = frame;
      const bool wrong_pair = o.one_wrong_pair && l == 0 && s == 0;
      for (int k = 0; k < 120; ++k) {
        record::Cell cell;
        const bool wrong = wrong_pair || u(random) < o.wrong_cells;
        const Vec3 y = InventedFilm(
            scene[wrong ? static_cast<std::size_t>(u(random) * 119) : static_cast<std::size_t>(k)], nudged);
        for (int ch = 0; ch < 3; ++ch) cell.a_rgb[ch] = static_cast<float>(y[ch]);
        seen(frame, scene[k], cell.b_rgb);
        c.cells.push_back(cell);
      }
      if (!o.like_regions || l + 1 < o.filmed) {
        t.request.scan_to_frame.push_back(c);
        continue;
      }
      t.request.pairs.back().kind = record::PairKind::kLight;
      AddRegions(c, t.request);
    }
    t.request.lights.push_back(light);
  }
  return t;
}

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
      EXPECT_TRUE(std::any_of(f.flags.begin(), f.flags.end(),
                              [](const std::string& w) { return w.find("no film") != std::string::npos; }));
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
  Options o;
  o.like_regions = true;
  Truth t = MakeTruth(o);
  const int first = o.filmed - 1;
  const double with = MeanError(t, Solve(t), first, o.filmed);
  for (auto& [id, m] : t.request.measured) m.regions.clear();
  const double without = MeanError(t, Solve(t), first, o.filmed);
  std::printf("with %.2f, without %.2f\n", with, without);
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
      l.offset[c] = 0.6 + (i < 6 ? 0 : level_of_dim) - 0.5 * (l.state.level_log10 + 1.05) - 0.3 * k -
                    0.4 * l.state.grey_log10[c] + 0.35 * l.state.cast_log10[c] + 0.005 * normal(random);
    l.rolls = {i < 6 ? 0 : 1};
    lights.push_back(l);
  }
  return lights;
}

TEST(LightRule, LearnsFromFilmedLights) {
  const record::Belief taught = LightRule(RuledLights(0), BuiltInRule()).Taught();
  EXPECT_NEAR(taught.mean[0] - taught.mean[1] * -1.05, 0.6, 0.1);  // at the usual level
  EXPECT_NEAR(taught.mean[1], 0.5, 0.06);
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
    EXPECT_GT(rule.SameFilm(all[i].state, all[i < 6 ? 1 : 7].state), 0.9);
    EXPECT_LT(rule.SameFilm(all[i].state, all[i < 6 ? 7 : 1].state), 0.5);
  }
  EXPECT_LT(square, 2);
}

// Without film what was believed before comes back, as wide as sessions differ.
TEST(LightRule, WithoutFilmIsWhatWasBelieved) {
  LightState l;
  l.level_log10 = -1.05;
  const OffsetPrior belief = LightRule({}, BuiltInRule()).For(l);
  EXPECT_NEAR(belief.mean[1], 0.5, 1e-9);
  EXPECT_GT(belief.level_sigma, 0.2);
}

}  // namespace
}  // namespace samelight::solve
