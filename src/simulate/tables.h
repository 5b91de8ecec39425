// Measured spectra that are compiled in (data/README.md names the sources).
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "color/spectrum.h"

namespace samelight::simulate {

struct DataFile {
  std::string_view name;  // file name without ending
  std::string_view text;  // comma separated, one header line
};
std::span<const DataFile> DataFiles();

struct NamedSpectrum {
  std::string name;  // column header
  std::string
      group;  // objects only: natural, food, clothing, hair, skin, object and the computed tag, joined by '+'
  color::Spectrum values{};
};

// All columns of one data file on the common grid; ends are held for surfaces, zero for sensitivities
// ("camera..." files). `name` must be one of DataFiles(); anything else is a programmer's error (aborts).
// Thread safe.
const std::vector<NamedSpectrum>& Table(std::string_view name);
// One column of a file; aborts when absent.
const color::Spectrum& Column(std::string_view table, std::string_view column);

}  // namespace samelight::simulate
