#include "color/spectrum.h"

#include <algorithm>
#include <cmath>

#include "color/cie_tables.h"
#include "color/temperature.h"

namespace samelight::color {

Result<Spectrum> ResampleSpectrum(std::span<const double> wavelength_nm, std::span<const double> value,
                                  Outside outside) {
  const auto refuse = [](const char* what) { return Error{ErrorCode::kInvalidArgument, what, "", ""}; };
  if (wavelength_nm.empty()) return refuse("a spectrum needs at least one sample");
  if (wavelength_nm.size() != value.size()) return refuse("a spectrum needs as many values as wavelengths");
  for (std::size_t i = 0; i < value.size(); ++i) {
    if (!std::isfinite(wavelength_nm[i]) || !std::isfinite(value[i]))
      return refuse("a spectrum holds a value that is not a number");
    if (i > 0 && wavelength_nm[i] <= wavelength_nm[i - 1])
      return refuse("the wavelengths of a spectrum must ascend");
  }
  Spectrum result{};
  for (int i = 0; i < kSpectrumCount; ++i) {
    const double nm = WavelengthNm(i);
    if (nm < wavelength_nm.front() || nm > wavelength_nm.back()) {
      if (outside == Outside::kHold) result[i] = nm < wavelength_nm.front() ? value.front() : value.back();
      continue;
    }
    const auto above =
        std::lower_bound(wavelength_nm.begin(), wavelength_nm.end(), nm) - wavelength_nm.begin();
    if (wavelength_nm[above] == nm) {
      result[i] = value[above];
      continue;
    }
    const double t = (nm - wavelength_nm[above - 1]) / (wavelength_nm[above] - wavelength_nm[above - 1]);
    result[i] = value[above - 1] + t * (value[above] - value[above - 1]);
  }
  return result;
}

Vec3 XyzOfReflectance(const Spectrum& reflectance, const Spectrum& illuminant) {
  constexpr int kSkip = (kSpectrumFirstNm - kCmfFirstNm) / kCmfStepNm;
  Vec3 sum{};
  double white_y = 0;
  for (int i = 0; i < kSpectrumCount; ++i) {
    const Vec3& cmf = kCie1931Cmf[i + kSkip];
    white_y += illuminant[i] * cmf[1];
    for (int c = 0; c < 3; ++c) sum[c] += illuminant[i] * reflectance[i] * cmf[c];
  }
  return {sum[0] / white_y, sum[1] / white_y, sum[2] / white_y};
}

Vec3 XyzOfIlluminant(const Spectrum& illuminant) {
  Spectrum perfect_diffuser;
  perfect_diffuser.fill(1.0);
  return XyzOfReflectance(perfect_diffuser, illuminant);
}

Spectrum DaylightSpectrum(double cct_k) {
  const Xy d = DaylightXy(std::clamp(cct_k, kDaylightLeastK, kDaylightMostK));
  // CIE 015:2018, equations 4.3 and 4.4.
  const double m = 0.0241 + 0.2562 * d.x - 0.7341 * d.y;
  const double m1 = (-1.3515 - 1.7703 * d.x + 5.9114 * d.y) / m;
  const double m2 = (0.0300 - 31.4424 * d.x + 30.0717 * d.y) / m;
  Spectrum result;
  for (int i = 0; i < kSpectrumCount; ++i)
    result[i] = kDaylightS0[i] + m1 * kDaylightS1[i] + m2 * kDaylightS2[i];
  return result;
}

Spectrum PlanckSpectrum(double temperature_k) {
  const double t = std::clamp(temperature_k, 500.0, 100000.0);
  constexpr double kReferenceM = 560e-9;
  Spectrum result;
  for (int i = 0; i < kSpectrumCount; ++i) {
    const double ratio = kReferenceM / (WavelengthNm(i) * 1e-9);
    result[i] = 100 * std::pow(ratio, 5) * std::expm1(kPlanckC2 / (kReferenceM * t)) /
                std::expm1(kPlanckC2 / (WavelengthNm(i) * 1e-9 * t));
  }
  return result;
}

}  // namespace samelight::color
