// The rolls as they stand: folders and series, cut and joined by what a person said and by what scans show.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "record/pair.h"
#include "record/photo.h"
#include "session/words.h"

namespace samelight::job {

// Rolls with their scans in order, and what is known of each: what a person said, else what its scans show
// (black-and-white where most are; format by their shape; the day of their own dates). A person joins rolls
// (one that was split over folders) and splits them; a series that holds scans of two shapes, or of which a
// part is black-and-white, is split by itself, three scans on each side at least. A part keeps its number for
// as long as its first scan is there. Sets roll and roll_position of the scans among `photos`.
std::vector<record::Roll> StandingRolls(std::vector<record::Roll> rolls, const session::Standing& standing,
                                        const std::unordered_map<PhotoId, record::Measured>& measured,
                                        std::vector<record::Photo>& photos);

// First scans of what looks like another film, by grain, shape or colour of the scans of one series. The
// grain must differ by a third and by four standard errors of the medians.
struct FilmChange {
  std::size_t at = 0;    // index of the first scan of the other film
  bool certain = false;  // by shape or black-and-white; grain alone is not
};
std::vector<FilmChange> FilmChanges(const std::vector<const record::Photo*>& scans,
                                    const std::vector<const record::Measured*>& measured);

session::RollFact SplitAt(RollId roll, PhotoId scan);
session::RollFact JoinTo(RollId roll, RollId other);

// A date as ISO 8601 writes it, "2026-05-30".
bool IsDay(const std::string& text);

}  // namespace samelight::job
