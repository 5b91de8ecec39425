#include "report/report.h"

namespace samelight::report {
namespace {

// Title, observers and figures by the abstract in the repository of the University of Athens; journal and
// year from memory, the authors are not named there.
constexpr char kFacialSkin[] =
    "\"Perceptibility and acceptability thresholds of simulated facial skin color differences\", University "
    "of "
    "Athens, J. Prosthodont. Res. 2019 (journal and year from memory), 90 observers on a screen: 50 % "
    "thresholds "
    "1.497 and 1.808";

}  // namespace

// The figures are CIELAB differences (CIE 1976); the left-overs are CIEDE2000, which is smaller for saturated
// colours. They are guides for reading the report, not limits that the program applies.
const std::vector<Threshold>& Thresholds() {
  static const std::vector<Threshold> all = {
      {"skin-perceptible", "half of all viewers see a change of facial skin on a screen", 1.5, "delta E*ab",
       kFacialSkin},
      {"skin-acceptable", "half of all viewers still accept a change of facial skin on a screen", 1.8,
       "delta E*ab", kFacialSkin},
      {"image-visible", "a change of a whole image becomes visible", 2.5, "delta E*ab",
       "Song & Luo 2001, complex images on a monitor (from memory)"},
  };
  return all;
}

Problem ProblemFrom(const std::string& what, const Error& error) {
  return {error.file, what, error.what, error.todo, error.code};
}

}  // namespace samelight::report
