// The proof sheet: every delivered picture, light by light, with room for a photographer's notes.
#pragma once

#include <filesystem>
#include <string>

#include "report/report.h"

namespace samelight::report {

// One self-contained page for the screen and for paper: no script, no font, no request. What is typed into
// the notes stays in the browser until the page is printed. Frames without a picture are listed by name.
std::string ProofText(const Report& report, const Thumbnail& thumbnail);
// The same, written whole or not at all; errors of WriteFileWhole.
Status WriteProof(const std::filesystem::path& path, const Report& report, const Thumbnail& thumbnail);

}  // namespace samelight::report
