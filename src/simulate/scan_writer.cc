#include <algorithm>
#include <cmath>

#include "codec/write.h"
#include "image/resize.h"
#include "simulate/picture_writer.h"
#include "simulate/random.h"
#include "simulate/srgb.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

// How much of what a scan's own content asks for beyond the light's mean the lab lets through.
constexpr double kContentPart = 0.35;

// The film gate: outside nothing was exposed. The edge is soft and a little crooked.
void CoverBorders(image::RgbF& exposure, Random random) {
  const int width = exposure.width(), height = exposure.height();
  const double long_side = std::max(width, height);
  double inset[4], slope[4];
  for (int k = 0; k < 4; ++k) {
    inset[k] = random.Uniform(0.012, 0.04) * long_side;
    slope[k] = random.Uniform(-0.004, 0.004);
  }
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const double inside = std::min({x - inset[0] - slope[0] * y, width - 1 - x - inset[1] - slope[1] * y,
                                      y - inset[2] - slope[2] * x, height - 1 - y - inset[3] - slope[3] * x});
      const float open = static_cast<float>(std::clamp(inside / (0.002 * long_side) + 0.5, 0.0, 1.0));
      for (int c = 0; c < 3; ++c) exposure.at(x, y)[c] *= open;
    }
}

Vec3 MeanStep(const image::RgbF& to, const image::RgbF& from) {
  Vec3 sum{};
  for (std::size_t i = 0; i < to.data().size(); ++i) sum[i % 3] += to.data()[i] - from.data()[i];
  for (double& v : sum) v /= static_cast<double>(to.pixels());
  return sum;
}

// Dust and hairs lie on the negative and keep light from the scanner, so they print white.
void DropDust(image::RgbF& positive, Random random) {
  const double unit = std::max(positive.width(), positive.height()) / 1500.0;
  const auto dot = [&](double x, double y, double radius, float strength) {
    for (int j = static_cast<int>(y - radius - 1); j <= y + radius + 1; ++j)
      for (int i = static_cast<int>(x - radius - 1); i <= x + radius + 1; ++i) {
        if (i < 0 || j < 0 || i >= positive.width() || j >= positive.height()) continue;
        const float cover =
            strength * static_cast<float>(std::clamp(radius + 0.5 - std::hypot(i - x, j - y), 0.0, 1.0));
        for (int c = 0; c < 3; ++c) positive.at(i, j)[c] += cover * (0.92f - positive.at(i, j)[c]);
      }
  };
  const int specks = 10 + random.Below(25);
  for (int k = 0; k < specks; ++k)
    dot(random.Uniform() * positive.width(), random.Uniform() * positive.height(),
        random.Uniform(0.6, 2.5) * unit, 0.9f);
  const int hairs = 1 + random.Below(3);
  for (int k = 0; k < hairs; ++k) {
    double x = random.Uniform() * positive.width(), y = random.Uniform() * positive.height(),
           angle = random.Uniform(0, 6.28);
    const double bend = random.Uniform(-0.03, 0.03);
    for (int step = 0; step < 60; ++step) {
      dot(x, y, 0.7 * unit, 0.5f);
      x += unit * std::cos(angle);
      y += unit * std::sin(angle);
      angle += bend;
    }
  }
}

}  // namespace

Result<ScanFacts> WriteScan(const fs::path& dir, const SessionOptions& options, const Plan& plan, int index,
                            const Studio& studio, const Stock& stock, const Lab& lab,
                            const LabSetting* mean) {
  const PlannedScan& scan = plan.scans[index];
  const PlannedRoll& roll = plan.rolls[scan.roll];
  const Moment& moment = plan.moments[scan.moment];
  const Sight sight{&moment, scan.other_people >= 0 ? scan.other_people : moment.photograph, &scan.view,
                    false};
  const Size size = SizeFor(roll.aspect, static_cast<int>(options.frame_long_side_px * 1.1), scan.portrait);
  Random random(options.seed, {0x0b, static_cast<std::uint64_t>(index)});

  image::RgbF exposure = studio.OnFilm(stock, sight, studio.LookAt(sight, size));
  Development right;
  right.over_ev = studio.film_over_ev();
  right.push_ev = roll.push_ev;
  Development real = right;
  real.over_ev += scan.exposure_error_ev;
  const image::RgbF densities = lab.Scan(Develop(stock, exposure, right));
  const image::RgbF off = lab.Scan(Develop(stock, exposure, real));

  // The correction of this scan: part of what its content asks for, nearly all of what a wrong exposure did,
  // and the operator's hand (about half a printer point of density, a third of one in colour; a point is
  // 0.025).
  const LabSetting own = lab.Automatic(densities, studio.GreyCard(stock, lab, sight, roll.push_ev));
  const LabSetting base = mean ? *mean : own;
  const Vec3 error = MeanStep(off, densities);
  LabSetting setting = base;
  const double density = random.Normal(0, 0.012);
  for (int c = 0; c < 3; ++c) {
    setting.shift[c] +=
        kContentPart * (own.shift[c] - base.shift[c]) - 0.95 * error[c] + density + random.Normal(0, 0.008);
    setting.black[c] = std::max(
        0.0, base.black[c] + kContentPart * (own.black[c] - base.black[c]) + random.Normal(0, 0.0008));
  }
  setting.contrast += kContentPart * (own.contrast - base.contrast) + random.Normal(0, 0.012);

  const image::RgbF plain = lab.Print(densities, base);
  ScanFacts facts;
  facts.nudge_de = MeanDifference(image::ShrinkTo(plain, 400), image::ShrinkTo(lab.Print(off, setting), 400));

  if (options.borders)
    CoverBorders(exposure, Random(options.seed, {0xb0, static_cast<std::uint64_t>(index)}));
  real.grain = true;
  real.grain_seed = options.seed * 999983 + index * 31;
  real.pixel_um = 56000.0 / std::max(size.width_px, size.height_px);
  image::RgbF positive = lab.Print(lab.Scan(Develop(stock, exposure, real)), setting);
  if (options.dust) DropDust(positive, Random(options.seed, {0xd0, static_cast<std::uint64_t>(index)}));
  if (Status status = codec::WritePicture(dir / scan.file, EncodeSrgb(positive), {}); !status.ok())
    return status.error();
  if (!options.truth_pictures) return facts;

  std::string tail = scan.file.substr(scan.file.find('/'));
  tail.replace(tail.rfind('.'), std::string::npos, ".png");
  facts.truth = "truth/scans" + tail;
  codec::WriteOptions png;
  png.format = codec::Format::kPng;
  if (Status status =
          codec::WritePicture(dir / facts.truth, EncodeSrgb(image::ShrinkTo(plain, kTruthLongSidePx)), png);
      !status.ok())
    return status.error();
  return facts;
}

}  // namespace samelight::simulate
