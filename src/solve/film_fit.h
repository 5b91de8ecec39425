// One look per roll and light, tied to a common one, offsets per light, a nudge per scan: fitted together
// over the session.
#pragma once

#include <array>
#include <set>
#include <vector>

#include "base/cancel.h"
#include "base/matrix.h"
#include "solve/earlier.h"
#include "solve/predict.h"

namespace samelight::solve {

// A matched place after unification.
struct FilmSample {
  Vec3 scene{};       // unified scene-linear BT.2020
  Vec3 lab{};         // CIELAB D65 of the scan
  double weight = 1;  // trust; each scan's samples are scaled to the same total in the fit
  int scan = 0;       // index into FilmSession::scans
};

// Gaussian belief about three log10 offsets: a common level and the differences between two layers.
struct OffsetPrior {
  Vec3 mean{0, 0, 0};
  double level_sigma = 0.3;
  double colour_sigma = 0.1;
};

struct FilmSession {
  struct Scan {
    int roll = 0, light = 0;
    double place = 0;     // in its light in time: -1 first, 1 last
    bool loose = false;   // seen through a frame whose own white and level are not known well (kLoose...)
    bool matched = true;  // by places, not by like regions only
    bool own_light_only = false;  // it tells nothing of the look or of other lights; so do all of its light
    double trust = 1;             // of its samples together, against a scan with matched places
    double confidence = 1;        // of its pair, above 0: all that it tells of its light counts so much
    // What the picture shows against the mean of its light's frames, log10 after unification. A lab's machine
    // takes part of that back in every scan.
    double level = 0;
    Vec3 grey{0, 0, 0};
  };
  std::vector<Scan> scans;
  int rolls = 0;
  std::vector<OffsetPrior> lights;
  std::vector<OffsetPrior> trends;  // of the change of the offsets from the middle of the light to its end
  std::vector<FilmSample> samples;
  // The lights whose scans tell only of them.
  std::set<int> LightsApart() const;
  LookBelief before = BuiltIn().look;  // of the common look
};

// log10: a lab's nudge of one scan; a tenth of a stop is an operator's step (common practice).
inline constexpr double kNudgeLevel = 0.03, kNudgeColour = 0.015;
// log10: what a frame that nothing ties to the others may be off by itself.
inline constexpr double kLooseLevel = 0.05, kLooseColour = 0.035;

inline constexpr int kNudgeSize = 5;  // three offsets (log10), contrast (relative), black (log10)

// How far the look of one roll, and that of one light, strays from the common one, as part of how far looks
// stray (LookPriorInformation). Film and camera do not see one light alike: sun and sky in one picture cross
// the layers, and lamps mix them.
inline constexpr double kLookShare = 0.3;

struct FilmFit {
  LookVector common{};
  double level_part = 0, grey_part = 0;  // of what a picture shows, how much the lab takes back
  std::vector<LookVector> roll;          // difference to common, one per roll
  std::vector<LookVector> light_look;    // further difference, one per light
  // log10 offsets in the middle of the light under the common look: what the differences above do to a grey
  // is held apart (hold_grey.h), so that the offsets of all lights mean the same.
  std::vector<Vec3> light;
  std::vector<Vec3> trend;  // and their change to its end
  std::vector<std::array<double, kNudgeSize>> nudge;

  // Of the common look and every roll's difference, one after the other; row by row.
  std::vector<double> looks_covariance;
  // Of a light's own look and offsets (kLookSize + 3 numbers), and of these with the looks above; row by row.
  struct OfLight {
    std::vector<double> own, with_looks;
  };
  std::vector<OfLight> light_covariance;
  int LooksSize() const { return kLookSize * (1 + static_cast<int>(roll.size())); }
  bool usable = false;

  static FilmFit Start(const FilmSession& session);

  // What a frame of a roll in a light is rendered with.
  LookVector LookOf(int roll_index, int light_index) const;
  Vec3 OffsetOf(int roll_index, int light_index) const;
};

// Levenberg-Marquardt with a Cauchy loss of 2.5 CIELAB units (a*, b* divided by 1 + 0.035 C of the scan) by
// re-weighting, and a Cauchy loss on the offsets of a nudge (film_equations.h). Starts from
// `start` when given. Cancel stops between iterations; the result is then not usable. `most_rounds`: fewer
// where only a small change is asked for.
// Lights apart are fitted after the others, under the looks as these tell them.
FilmFit FitFilm(const FilmSession& session, const FilmFit* start, const Cancel& cancel, int most_rounds = 40);

// Fills the covariances of a usable fit of this session; FitFilm leaves them empty, since most fits are only
// looked at.
void FindCovariance(const FilmSession& session, FilmFit& fit);

}  // namespace samelight::solve
