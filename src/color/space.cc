#include "color/space.h"

#include <cmath>

#include "color/adapt.h"
#include "color/encode_float.h"

namespace samelight::color {
namespace {

struct Primaries {
  Xy red, green, blue, white;
};

Primaries PrimariesOf(Space space) {
  switch (space) {
    case Space::kSrgb:  // IEC 61966-2-1, ITU-R BT.709-6
      return {{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}, kD65};
    case Space::kDisplayP3:  // SMPTE EG 432-1 primaries, white D65
      return {{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}, kD65};
    case Space::kAdobeRgb:  // Adobe RGB (1998) Color Image Encoding, 2005-05
      return {{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}, kD65};
    case Space::kRec2020:  // ITU-R BT.2020-2, table 3
      return {{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}, kD65};
    case Space::kRomm:  // ISO 22028-2
      return {{0.7347, 0.2653}, {0.1596, 0.8404}, {0.0366, 0.0001}, kD50};
  }
  return {};
}

// ITU-R BT.2020-2, table 4: alpha and beta solve 4.5 b = a b^0.45 - a + 1 with equal slopes; the table rounds
// them.
constexpr double kBt2020Alpha = 1.09929682680944;
constexpr double kBt2020Beta = 0.018053968510807;
// Adobe RGB (1998), 4.3.1.2: 2 + 51/256.
constexpr double kAdobeGamma = 2.19921875;
// ISO 22028-2: slope 16 below 16^(1.8 / (1 - 1.8)) = 2^-9.
constexpr double kRommBreak = 1.0 / 512.0;

template <class T>
T EncodePositive(Space space, T v) {
  const auto power = [v](double exponent) { return std::pow(v, static_cast<T>(exponent)); };
  switch (space) {
    case Space::kSrgb:
    case Space::kDisplayP3:
      return v <= T(0.0031308) ? T(12.92) * v : T(1.055) * power(1 / 2.4) - T(0.055);
    case Space::kAdobeRgb:
      return power(1 / kAdobeGamma);
    case Space::kRec2020:
      return v < T(kBt2020Beta) ? T(4.5) * v : T(kBt2020Alpha) * power(0.45) - T(kBt2020Alpha - 1);
    case Space::kRomm:
      return v < T(kRommBreak) ? T(16) * v : power(1 / 1.8);
  }
  return v;
}

double DecodePositive(Space space, double v) {
  switch (space) {
    case Space::kSrgb:
    case Space::kDisplayP3:
      return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
    case Space::kAdobeRgb:
      return std::pow(v, kAdobeGamma);
    case Space::kRec2020:
      return v < 4.5 * kBt2020Beta ? v / 4.5 : std::pow((v + (kBt2020Alpha - 1)) / kBt2020Alpha, 1 / 0.45);
    case Space::kRomm:
      return v < 16 * kRommBreak ? v / 16 : std::pow(v, 1.8);
  }
  return v;
}

}  // namespace

const char* Name(Space space) {
  switch (space) {
    case Space::kSrgb:
      return "sRGB";
    case Space::kDisplayP3:
      return "Display P3";
    case Space::kAdobeRgb:
      return "Adobe RGB (1998)";
    case Space::kRec2020:
      return "BT.2020";
    case Space::kRomm:
      return "ROMM RGB";
  }
  return "";
}

Xy White(Space space) { return PrimariesOf(space).white; }

Vec3 XyzFromXy(Xy xy) { return {xy.x / xy.y, 1.0, (1 - xy.x - xy.y) / xy.y}; }

Xy XyFromXyz(const Vec3& xyz) {
  const double sum = xyz[0] + xyz[1] + xyz[2];
  return {xyz[0] / sum, xyz[1] / sum};
}

// SMPTE RP 177: the primaries are scaled so that equal signals give the white.
Mat3 XyzFromRgb(Space space) {
  const Primaries p = PrimariesOf(space);
  const Vec3 r = XyzFromXy(p.red), g = XyzFromXy(p.green), b = XyzFromXy(p.blue);
  const Mat3 unscaled{{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}};
  return Mul(unscaled, Diagonal(Mul(Inverse(unscaled), XyzFromXy(p.white))));
}

Mat3 RgbFromXyz(Space space) { return Inverse(XyzFromRgb(space)); }

Mat3 RgbFromRgb(Space to, Space from) {
  if (to == from) return kIdentity3;
  const Xy a = White(from), b = White(to);
  const Mat3 xyz = XyzFromRgb(from);
  if (a.x == b.x && a.y == b.y) return Mul(RgbFromXyz(to), xyz);
  return Mul(RgbFromXyz(to), Mul(Adaptation(XyzFromXy(a), XyzFromXy(b), AdaptMethod::kBradford), xyz));
}

double Encode(Space space, double linear) {
  return std::copysign(EncodePositive(space, std::fabs(linear)), linear);
}

float EncodeInFloat(Space space, float linear) {
  return std::copysign(EncodePositive(space, std::fabs(linear)), linear);
}

double Decode(Space space, double encoded) {
  return std::copysign(DecodePositive(space, std::fabs(encoded)), encoded);
}

}  // namespace samelight::color
