// What a lab did to one scan alone: as numbers of a correction, its size, and how films of one roll differ by
// it.
#pragma once

#include <cstddef>
#include <vector>

#include "record/correction.h"
#include "solve/film_fit.h"

namespace samelight::solve {

// Of scan `scan` of the session as fitted: everything that its prediction has beside look, light and trend.
record::ScanNudge NudgeOf(const FilmSession& session, const FilmFit& fit, std::size_t scan);

// The correction of a light becomes that of one scan: offsets, slopes and floors; what a person reads as
// exposure, warmth, green-magenta, gamma and black density.
void Add(const record::ScanNudge& nudge, record::Correction& correction);

// Whether a lab would do that to one scan: not more than half a stop, nor a quarter of one in colour. What is
// larger speaks of another light, a wrong pair or a faulty scan.
bool IsOfALab(const record::ScanNudge& nudge);

// How far two prints of one scan's roll and light lie from each other by their nudges: CIEDE2000, mean over
// skin, a leaf, mid-grey and a deep shadow (3 % of white).
double Difference(const FilmSession& session, const FilmFit& fit, std::size_t scan,
                  const record::ScanNudge& a, const record::ScanNudge& b);

// How scans of one roll differ among themselves: the middle of the differences of any two, each seen in the
// light of the first. Scans without matched places are left out, as are rolls with fewer than two.
struct RollSpread {
  int roll = 0;  // index
  int scans = 0;
  double de = 0;
};
std::vector<RollSpread> SpreadsOfRolls(const FilmSession& session, const FilmFit& fit);

}  // namespace samelight::solve
