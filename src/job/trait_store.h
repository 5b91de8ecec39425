// Measured traits of the film, kept in the session's cache folder.
#pragma once

#include <filesystem>
#include <optional>

#include "job/film_traits.h"

namespace samelight::job {

// Nothing when there is no such file, or a damaged one, or one of another version.
std::optional<FilmTraits> ReadTraits(const std::filesystem::path& file);
// The file appears whole or not at all; a failure costs only the next measuring.
void KeepTraits(const std::filesystem::path& file, const FilmTraits& traits);

}  // namespace samelight::job
