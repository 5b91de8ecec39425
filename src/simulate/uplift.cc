#include "simulate/uplift.h"

#include <algorithm>
#include <cmath>
#include <mutex>

#include <Eigen/Dense>

#include "color/cie_tables.h"
#include "color/lab.h"
#include "color/space.h"
#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

using color::Spectrum;
constexpr int kBands = color::kSpectrumCount;

// XYZ of a reflectance under D65 as three weighted sums; Y of the perfect diffuser is 1.
const std::array<Spectrum, 3>& ObserverUnderD65() {
  static const auto rows = [] {
    std::array<Spectrum, 3> out{};
    double sum = 0;
    for (int k = 0; k < kBands; ++k) {
      const auto& cmf =
          color::kCie1931Cmf[(color::kSpectrumFirstNm - color::kCmfFirstNm) / color::kCmfStepNm + k];
      for (int c = 0; c < 3; ++c) out[c][k] = cmf[c] * color::kIlluminantD65[k];
      sum += out[1][k];
    }
    for (auto& row : out)
      for (double& v : row) v /= sum;
    return out;
  }();
  return rows;
}

Vec3 SrgbUnderD65(const Spectrum& reflectance) {
  Vec3 xyz{};
  for (int c = 0; c < 3; ++c)
    for (int k = 0; k < kBands; ++k) xyz[c] += ObserverUnderD65()[c][k] * reflectance[k];
  return Mul(color::RgbFromXyz(color::Space::kSrgb), xyz);
}

// A measured spectrum scaled so that its linear sRGB sums to 1.
struct Sample {
  double r, g;
  Spectrum values;
};

void Add(std::vector<Sample>& samples, const Spectrum& spectrum) {
  const Vec3 rgb = SrgbUnderD65(spectrum);
  const double sum = rgb[0] + rgb[1] + rgb[2];
  if (!(sum > 0.01)) return;
  Sample sample{rgb[0] / sum, rgb[1] / sum, spectrum};
  for (double& v : sample.values) v = std::max(v, 1e-4) / sum;
  samples.push_back(sample);
}

void AddGroup(std::vector<Sample>& samples, const std::string& group) {
  for (const auto& object : Table("objects"))
    if (object.group.find(group) != std::string::npos) Add(samples, object.values);
}

void AddUsgs(std::vector<Sample>& samples, std::initializer_list<const char*> names) {
  for (const char* name : names) Add(samples, Column("usgs", name));
}

std::vector<Sample> SamplesOf(Material material) {
  std::vector<Sample> s;
  switch (material) {
    case Material::kSkin:
      for (const auto& person : Table("skin"))
        if (person.name != "mean") Add(s, person.values);
      AddGroup(s, "skin");
      break;
    case Material::kLeaf:
      AddUsgs(s, {"aspen_leaf_green", "aspen_leaf_yellow", "rush_green", "lodgepole_pine_needle"});
      AddGroup(s, "green_leaf_like");
      Add(s, Column("test_colours", "TCS14"));
      break;
    case Material::kGrass:
      AddUsgs(s, {"rush_green", "grass_golden_dry", "lodgepole_pine_needle"});
      Add(s, Column("lawn", "lawn_grass_green"));
      break;
    case Material::kSoil:
      AddUsgs(s, {"playa_dry_mud", "illite_quartz_soil", "sand_beach", "brick_red", "brick_dark_red",
                  "rusted_can"});
      break;
    case Material::kStone:
      AddUsgs(s, {"concrete_grey", "asphalt_dark", "concrete_wtc", "limestone", "sand_beach",
                  "galvanized_steel", "snow"});
      break;
    case Material::kCotton:
      AddUsgs(s, {"cotton_white", "nylon_black_coated", "burlap_brown", "paper_white"});
      AddGroup(s, "white_cloth_like");
      AddGroup(s, "black_cloth_like");
      break;
    case Material::kDyedCloth:
      AddUsgs(s, {"nylon_red", "nylon_blue", "nylon_black_coated", "cotton_white"});
      AddGroup(s, "clothing");
      break;
    case Material::kPaint:
      AddUsgs(s, {"tio2_pigment", "pvc_white", "fiberglass_green"});
      AddGroup(s, "object");
      for (const auto& patch : Table("target24")) Add(s, patch.values);
      break;
    case Material::kFlower:
      AddGroup(s, "natural");
      AddGroup(s, "food");
      for (const auto& sample : Table("test_colours")) Add(s, sample.values);
      break;
    case Material::kWood:
      AddUsgs(s, {"wood_pine", "burlap_brown", "grass_golden_dry", "brick_dark_red"});
      AddGroup(s, "hair");
      break;
    case Material::kSky: {
      // Sky light as seen against D65: daylight of every colour, divided by it.
      for (double cct : {4000.0, 5000.0, 6504.0, 8000.0, 10000.0, 14000.0, 25000.0}) {
        const Spectrum daylight = color::DaylightSpectrum(cct);
        Spectrum factor;
        for (int k = 0; k < kBands; ++k) factor[k] = daylight[k] / color::kIlluminantD65[k];
        Add(s, factor);
      }
      break;
    }
    case Material::kSmooth:
    case Material::kCount: {
      Spectrum flat;
      flat.fill(1);
      Add(s, flat);
      break;
    }
  }
  return s;
}

// The mix of samples near (r, g): weights fall off as a Gaussian of the distance, measured from the nearest
// one.
Spectrum Nearby(const std::vector<Sample>& samples, double r, double g) {
  constexpr double kWidth = 0.025;
  double nearest = 1e9;
  const auto distance2 = [&](const Sample& s) {
    return (s.r - r) * (s.r - r) + (s.g - g) * (s.g - g) + (s.r - r) * (s.g - g);
  };
  for (const Sample& s : samples) nearest = std::min(nearest, distance2(s));
  Spectrum mix{};
  double total = 0;
  for (const Sample& s : samples) {
    const double w = std::exp(-(distance2(s) - nearest) / (2 * kWidth * kWidth));
    for (int k = 0; k < kBands; ++k) mix[k] += w * s.values[k];
    total += w;
  }
  for (double& v : mix) v /= total;
  return mix;
}

// prior * exp(a . observer) with the XYZ that is wanted: Newton steps on the convex dual, halved until it
// falls.
Spectrum ToColour(const Spectrum& prior, const Vec3& xyz) {
  const auto& observer = ObserverUnderD65();
  Eigen::Vector3d a = Eigen::Vector3d::Zero();
  const Eigen::Vector3d aim(xyz[0], xyz[1], xyz[2]);
  // Rows scaled to a peak near 1, so that a is of order 1.
  constexpr double kScale = 40;
  Spectrum out{};
  const auto dual = [&](const Eigen::Vector3d& at) {
    double sum = 0;
    for (int k = 0; k < kBands; ++k) {
      double e = 0;
      for (int c = 0; c < 3; ++c) e += at[c] * observer[c][k] * kScale;
      out[k] = prior[k] * std::exp(std::clamp(e, -60.0, 60.0));
      sum += out[k];
    }
    return sum - at.dot(aim) * kScale;
  };
  double value = dual(a);
  for (int step = 0; step < 60; ++step) {
    Eigen::Vector3d gradient = -aim * kScale;
    Eigen::Matrix3d hessian = Eigen::Matrix3d::Identity() * 1e-9;
    for (int k = 0; k < kBands; ++k)
      for (int c = 0; c < 3; ++c) {
        const double row = observer[c][k] * kScale;
        gradient[c] += row * out[k];
        for (int d = 0; d < 3; ++d) hessian(c, d) += row * observer[d][k] * kScale * out[k];
      }
    if (gradient.norm() < 1e-9) break;
    const Eigen::Vector3d move = hessian.ldlt().solve(gradient);
    double length = 1;
    for (; length > 1e-6; length /= 2) {
      const double next = dual(a - length * move);
      if (next < value) {
        value = next;
        break;
      }
    }
    if (length <= 1e-6) break;
    a -= length * move;
  }
  dual(a);
  return out;
}

std::vector<Spectrum> ComputeUplift(Material material) {
  const auto samples = SamplesOf(material);
  const Mat3 xyz_from_srgb = color::XyzFromRgb(color::Space::kSrgb);
  std::vector<Spectrum> nodes(ChromaGrid::kNodes);
  for (int j = 0; j <= ChromaGrid::kSide; ++j)
    for (int i = 0; i + j <= ChromaGrid::kSide; ++i) {
      const Vec3 rgb = ChromaGrid::ColourOf(i, j);
      // A corner of the triangle is asked for a hair inside: no positive spectrum is needed beyond.
      Vec3 inside;
      for (int c = 0; c < 3; ++c) inside[c] = 0.998 * rgb[c] + 0.002 / 3;
      nodes[ChromaGrid::Node(i, j)] = ToColour(Nearby(samples, rgb[0], rgb[1]), Mul(xyz_from_srgb, inside));
    }
  return nodes;
}

// How much of a node belongs to each hue of a palette; sums to 1.
std::array<double, Palette::kHues> HueShares(const Vec3& rgb) {
  Vec3 xyz = Mul(color::XyzFromRgb(color::Space::kSrgb), rgb);
  const double scale = 0.35 / std::max(xyz[1], 1e-6);
  for (double& v : xyz) v *= scale;
  const Vec3 lab = color::LabFromXyz(xyz, color::XyzFromXy(color::kD65));
  const double chroma = std::hypot(lab[1], lab[2]);
  const double hue = std::fmod(std::atan2(lab[2], lab[1]) * 57.29577951308232 + 360, 360);
  std::array<double, Palette::kHues> shares{};
  // Hue centres in degrees of CIELAB, common practice for what is red, skin, yellow, green, blue, purple.
  constexpr std::array<double, 6> kCentre{20, 58, 92, 135, 265, 325};
  const double grey = std::exp(-(chroma / 9) * (chroma / 9));
  shares[0] = grey;
  for (int h = 0; h < 6; ++h) {
    const double from = kCentre[h], to = h == 5 ? kCentre[0] + 360 : kCentre[h + 1];
    double at = hue;
    if (at < from) at += 360;
    if (at < from || at >= to) continue;
    const double t = (at - from) / (to - from), s = t * t * (3 - 2 * t);
    shares[1 + h] += (1 - grey) * (1 - s);
    shares[1 + (h + 1) % 6] += (1 - grey) * s;
  }
  return shares;
}

std::vector<Spectrum> Blend(const std::array<Material, Palette::kHues>& materials) {
  std::vector<Spectrum> nodes(ChromaGrid::kNodes);
  for (int j = 0; j <= ChromaGrid::kSide; ++j)
    for (int i = 0; i + j <= ChromaGrid::kSide; ++i) {
      const int node = ChromaGrid::Node(i, j);
      const auto shares = HueShares(ChromaGrid::ColourOf(i, j));
      nodes[node].fill(0);
      for (int h = 0; h < Palette::kHues; ++h)
        for (int k = 0; k < kBands; ++k) nodes[node][k] += shares[h] * Uplift(materials[h])[node][k];
    }
  return nodes;
}

}  // namespace

ChromaGrid::Place ChromaGrid::Find(float r, float g, float b) {
  r = r > 0 ? r : 0;
  g = g > 0 ? g : 0;
  b = b > 0 ? b : 0;
  const float sum = r + g + b;
  float x = kSide / 3.0f, y = kSide / 3.0f;
  if (sum > 1e-12f) {
    x = r / sum * kSide;
    y = g / sum * kSide;
  }
  int i = std::min(static_cast<int>(x), kSide - 1), j = std::min(static_cast<int>(y), kSide - 1);
  if (i + j >= kSide) {  // exactly on the edge without blue
    if (i > 0)
      i = kSide - 1 - j;
    else
      j = kSide - 1 - i;
  }
  const float u = x - i, v = y - j;
  if (u + v <= 1 || i + j + 2 > kSide)
    return {{Node(i, j), Node(i + 1, j), Node(i, j + 1)}, {1 - u - v, u, v}, sum};
  return {{Node(i + 1, j + 1), Node(i, j + 1), Node(i + 1, j)}, {u + v - 1, 1 - u, 1 - v}, sum};
}

const std::vector<Spectrum>& Uplift(Material material) {
  constexpr int kCount = static_cast<int>(Material::kCount);
  static std::array<std::once_flag, kCount> once;
  static std::array<std::vector<Spectrum>, kCount> tables;
  const int index = static_cast<int>(material);
  std::call_once(once[index], [&] { tables[index] = ComputeUplift(material); });
  return tables[index];
}

Palette PaletteFor(const std::string& stem) {
  using M = Material;
  //                     grey      red         skin/wood  yellow     green     blue        purple
  const Palette people{
      {M::kCotton, M::kSkin, M::kSkin, M::kSkin, M::kLeaf, M::kDyedCloth, M::kDyedCloth},
      {M::kPaint, M::kDyedCloth, M::kSkin, M::kDyedCloth, M::kGrass, M::kDyedCloth, M::kPaint}};
  const Palette outdoors{{M::kStone, M::kSoil, M::kSoil, M::kGrass, M::kLeaf, M::kSky, M::kSky},
                         {M::kSky, M::kSoil, M::kWood, M::kLeaf, M::kGrass, M::kSky, M::kStone}};
  const Palette flowers{{M::kCotton, M::kFlower, M::kFlower, M::kFlower, M::kLeaf, M::kFlower, M::kFlower},
                        {M::kSmooth, M::kFlower, M::kWood, M::kLeaf, M::kLeaf, M::kSky, M::kFlower}};
  const Palette indoors{
      {M::kPaint, M::kDyedCloth, M::kWood, M::kWood, M::kPaint, M::kDyedCloth, M::kDyedCloth},
      {M::kCotton, M::kPaint, M::kWood, M::kDyedCloth, M::kDyedCloth, M::kPaint, M::kPaint}};
  const auto is = [&](std::initializer_list<const char*> names) {
    for (const char* name : names)
      if (stem.starts_with(name)) return true;
    return false;
  };
  if (is({"aitzgorri", "life", "picos", "sunset", "Bridge", "Dragonfly", "lake", "seeding"})) return outdoors;
  if (is({"flower", "tulips", "blossom"})) return flowers;
  if (is({"Wine", "free", "greentock", "room", "coffee", "Picture", "friends", "chelsea"})) return indoors;
  return people;
}

Surfaces SurfacesOf(const Palette& palette) { return {Blend(palette.first), Blend(palette.second)}; }

}  // namespace samelight::simulate
