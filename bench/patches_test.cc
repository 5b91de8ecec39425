// The whole solve on published patches: real surfaces under published illuminants, seen by measured camera
// sensitivities on one side and by a film of spectral layers and its lab on the other. Fitted on some
// surfaces, judged in CIEDE2000 on others.
//   surfaces: 24-patch target, Ohta 1997 (ISO 17321-1:2012); 170 objects, Vrhel, Gershon, Iwan 1994; skin of
//   100
//     persons, Cooksey, Allen, Tsai 2017; leaves and more, USGS Spectral Library v7; CIE 13.3-1995 samples
//   illuminants: CIE D65 and A (CIE 015:2018); sensitivities: src/simulate/data/README.md; the films and the
//   lab
//     are invented, and share no equation with the look
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "color/cie_tables.h"
#include "color/difference.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "simulate/camera.h"
#include "simulate/lab.h"
#include "simulate/tables.h"
#include "solve/left_over.h"
#include "solve/solve.h"

namespace samelight::bench {
namespace {

using color::Spectrum;
using simulate::World;

struct Patch {
  std::string name;
  Spectrum reflectance;
  bool skin = false, leaf = false;
};

// Every second surface is held out; the target is fitted on whole, CIE's samples and the USGS's are all held
// out.
void TakePatches(std::vector<Patch>& fitted, std::vector<Patch>& held_out) {
  for (const auto& s : simulate::Table("target24")) fitted.push_back({s.name, s.values});
  const auto halve = [&](const char* table, bool skin) {
    int i = 0;
    for (const auto& s : simulate::Table(table)) {
      const bool leaf = s.group.find("leaf") != std::string::npos,
                 person = skin || s.group.starts_with("skin");
      (i++ % 2 == 0 ? fitted : held_out).push_back({s.name, s.values, person, leaf});
    }
  };
  halve("objects", false);
  halve("skin", true);
  // TCS13 is light skin, TCS14 a leaf.
  for (const auto& s : simulate::Table("test_colours"))
    held_out.push_back({s.name, s.values, s.name == "TCS13", s.name == "TCS14"});
  for (const auto& s : simulate::Table("usgs"))
    held_out.push_back({s.name, s.values, false, s.name == "aspen_leaf_green" || s.name == "rush_green"});
  for (const auto& s : simulate::Table("lawn")) held_out.push_back({s.name, s.values, false, true});
}

// One light as a digital body and as film with its lab see it.
class Side {
 public:
  Side(const simulate::Camera& camera, const simulate::Stock& stock, const simulate::Lab& lab,
       const Spectrum& illuminant)
      : camera_(camera),
        stock_(stock),
        lab_(lab),
        light_(simulate::UnitY(illuminant)),
        neutral_(simulate::Respond(camera.sees, light_)),
        rec2020_from_camera_(
            Mul(color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb), camera.srgb_from_balanced)) {}

  record::RawColour Raw() const {
    record::RawColour raw;
    raw.rec2020_from_camera = raw.rec2020_from_daylight = rec2020_from_camera_;
    const Vec3 daylight = simulate::Respond(camera_.sees, simulate::UnitY(color::kIlluminantD65));
    for (int c = 0; c < 3; ++c) {
      raw.as_shot[c] = neutral_[1] / neutral_[c];
      raw.daylight[c] = daylight[1] / daylight[c];
    }
    return raw;
  }
  // As decoded at the light's own white, linear BT.2020.
  Vec3 Digital(const Spectrum& surface, double exposure_log10) const {
    Vec3 raw = simulate::Respond(camera_.sees, simulate::Under(surface, light_));
    for (int c = 0; c < 3; ++c) raw[c] *= std::pow(10.0, exposure_log10) / neutral_[c];
    return Mul(rec2020_from_camera_, raw);
  }
  // The lab looks at all patches and sets its machine once.
  void Set(const std::vector<Patch>& patches) {
    image::RgbF densities(static_cast<int>(patches.size()), 1);
    for (std::size_t i = 0; i < patches.size(); ++i) {
      const Vec3 d = Scanned(patches[i].reflectance);
      for (std::size_t c = 0; c < 3; ++c) densities.data()[3 * i + c] = static_cast<float>(d[c]);
    }
    Spectrum card;
    card.fill(0.18);
    setting_ = lab_.Automatic(densities, Scanned(card));
  }
  // The print, display-linear BT.2020.
  Vec3 Printed(const Spectrum& surface) const {
    image::RgbF one(1, 1);
    const Vec3 d = Scanned(surface);
    for (std::size_t c = 0; c < 3; ++c) one.data()[c] = static_cast<float>(d[c]);
    const image::RgbF print = lab_.Print(one, setting_);
    static const Mat3 kBack = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
    return Mul(kBack, Vec3{print.data()[0], print.data()[1], print.data()[2]});
  }

 private:
  // One stop over box speed, as negatives are exposed (common practice).
  Vec3 Scanned(const Spectrum& surface) const {
    const Vec3 seen = simulate::Respond(stock_.layers, simulate::Under(surface, light_)),
               reference = simulate::DaylightReference(stock_);
    Vec3 log_exposure;
    for (int c = 0; c < 3; ++c)
      log_exposure[c] = std::log10(std::max(2 * seen[c] / reference[c] / 0.18, 1e-5));
    return lab_.ScanExactly(simulate::DyesOf(stock_, log_exposure, 0));
  }

  const simulate::Camera& camera_;
  const simulate::Stock& stock_;
  const simulate::Lab& lab_;
  Spectrum light_;
  Vec3 neutral_;
  Mat3 rec2020_from_camera_;
  simulate::LabSetting setting_;
};

constexpr double kExposures[2] = {-0.1, 0.1};  // log10, of a light's two frames

solve::Request RequestOf(const std::vector<Side>& sides, const std::vector<Patch>& fitted) {
  solve::Request request;
  request.rolls.resize(1);
  request.rolls[0].id = {0};
  for (std::size_t l = 0; l < sides.size(); ++l) {
    record::Light light;
    light.id = {static_cast<std::int64_t>(l)};
    for (int f = 0; f < 2; ++f) {
      record::Photo frame, scan;
      frame.id = {static_cast<std::int64_t>(10 * l + f)};
      frame.role = record::Role::kFrame;
      frame.encoding = record::Encoding::kRaw;
      frame.raw = sides[l].Raw();
      frame.capture.exposure_time_s = 0.01 * std::pow(10.0, kExposures[f]);
      frame.capture.aperture = 4;
      frame.capture.iso = 400;
      request.measured[frame.id].light.log2_level = std::log2(0.18) + kExposures[f] / 0.30103;
      scan.id = {static_cast<std::int64_t>(1000 + 10 * l + f)};
      scan.role = record::Role::kScan;
      request.rolls[0].scans.push_back(scan.id);
      light.frames.push_back(frame.id);
      record::Correspondence matched;
      matched.a = scan.id;
      matched.b = frame.id;
      for (const Patch& p : fitted) {
        record::Cell cell;
        const Vec3 print = sides[l].Printed(p.reflectance),
                   seen = sides[l].Digital(p.reflectance, kExposures[f]);
        for (int c = 0; c < 3; ++c) {
          cell.a_rgb[c] = static_cast<float>(print[c]);
          cell.b_rgb[c] = static_cast<float>(seen[c]);
        }
        if (p.skin) cell.region = record::RegionKind::kSkin;
        matched.cells.push_back(cell);
      }
      request.scan_to_frame.push_back(matched);
      request.pairs.push_back({scan.id, frame.id, record::PairKind::kMoment, 0.95, false, {}});
      request.photos.push_back(frame);
      request.photos.push_back(scan);
    }
    record::Correspondence between;
    between.a = light.frames[0];
    between.b = light.frames[1];
    for (const Patch& p : fitted) {
      record::Cell cell;
      const Vec3 a = sides[l].Digital(p.reflectance, kExposures[0]),
                 b = sides[l].Digital(p.reflectance, kExposures[1]);
      for (int c = 0; c < 3; ++c) {
        cell.a_rgb[c] = static_cast<float>(a[c]);
        cell.b_rgb[c] = static_cast<float>(b[c]);
      }
      between.cells.push_back(cell);
    }
    request.frame_to_frame.push_back(between);
    request.lights.push_back(light);
  }
  return request;
}

struct Error {
  double mean = 0, p95 = 0, skin = 0, leaf = 0, untouched = 0;
};

Error ErrorOf(const Side& side, const record::Correction& correction, double exposure_log10,
              const std::vector<Patch>& patches) {
  const look::Resolved resolved = look::Resolve(correction);
  record::Correction plain;
  plain.look = look::NeutralLook();
  const look::Resolved neutral = look::Resolve(plain);
  std::vector<double> all, skin, leaf;
  Error error;
  for (const Patch& p : patches) {
    const Vec3 wanted = solve::LabOfDisplay(side.Printed(p.reflectance));
    const double de = color::Ciede2000(
        solve::LabOfDisplay(look::Evaluate(resolved, side.Digital(p.reflectance, exposure_log10))), wanted);
    all.push_back(de);
    if (p.skin) skin.push_back(de);
    if (p.leaf) leaf.push_back(de);
    error.untouched +=
        color::Ciede2000(solve::LabOfDisplay(look::Evaluate(neutral, side.Digital(p.reflectance, 0))),
                         wanted) /
        static_cast<double>(patches.size());
  }
  const auto mean = [](const std::vector<double>& v) {
    double sum = 0;
    for (double x : v) sum += x;
    return sum / static_cast<double>(v.size());
  };
  error.mean = mean(all);
  error.skin = mean(skin);
  error.leaf = mean(leaf);
  std::sort(all.begin(), all.end());
  error.p95 = all[all.size() * 95 / 100];
  return error;
}

struct Case {
  const char* name;
  int camera;
  World world;
  int stock;
  double mean, p95, skin, leaf;  // at most, both illuminants
};

class Patches : public testing::TestWithParam<Case> {};

TEST_P(Patches, HeldOutSurfacesPrintLikeTheFilm) {
  const Case& c = GetParam();
  const simulate::Camera camera = simulate::MakeCamera(c.camera, 1);
  const simulate::Stock stock = simulate::MakeStocks(1, c.world)[static_cast<std::size_t>(c.stock)];
  const simulate::Lab lab(stock, 1, 0, c.world);
  std::vector<Patch> fitted, held_out;
  TakePatches(fitted, held_out);
  ASSERT_GT(held_out.size(), 150u);
  std::vector<Side> sides;
  for (const Spectrum* illuminant : {&color::kIlluminantD65, &color::kIlluminantA}) {
    sides.emplace_back(camera, stock, lab, *illuminant);
    sides.back().Set(fitted);
  }
  SilentProgress silent;
  const auto solved = solve::SolveSession(RequestOf(sides, fitted), silent, {});
  ASSERT_TRUE(solved.ok()) << solved.error().Text();
  ASSERT_EQ(solved->frames.size(), 4u);
  for (std::size_t i = 0; i < 4; ++i) {
    const Error e = ErrorOf(sides[i / 2], solved->frames[i].correction, kExposures[i % 2], held_out);
    std::printf("%s, %s: mean %.2f, 95 %% %.2f, skin %.2f, leaf %.2f; without film %.2f\n", c.name,
                i < 2 ? "D65" : "A", e.mean, e.p95, e.skin, e.leaf, e.untouched);
    EXPECT_LT(e.mean, c.mean) << i;
    EXPECT_LT(e.p95, c.p95) << i;
    EXPECT_LT(e.skin, c.skin) << i;
    EXPECT_LT(e.leaf, c.leaf) << i;
    EXPECT_LT(e.mean, 0.5 * e.untouched) << i;
  }
}

// Bounds: about a third above what was first seen (mean 1.15, 1.89, 1.29; skin 0.47, 0.84, 0.55), never above
// 2.6 for the mean and 2.5 for skin, which lights with film need.
INSTANTIATE_TEST_SUITE_P(
    CamerasAndFilms, Patches,
    testing::Values(Case{"camera a, usual film", 0, World::kUsual, 0, 1.6, 4.3, 0.9, 1.4},
                    Case{"camera d, another usual film", 2, World::kUsual, 2, 2.5, 6.6, 1.3, 3.0},
                    Case{"camera e, unseen film", 3, World::kUnseen, 0, 1.8, 4.6, 1.0, 2.0}),
    [](const auto& of) { return "Case" + std::to_string(of.index); });

}  // namespace
}  // namespace samelight::bench
