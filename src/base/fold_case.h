// Names that a disk may take for the same.
#pragma once

#include <string>
#include <string_view>

namespace samelight {

// Equal for two names exactly when they match without regard to case and to how accents are composed
// (Unicode 15.0, D145: canonical caseless match, with the full mappings of CaseFolding.txt, those for Turkic
// left out). What is not UTF-8 keeps its bytes, A to Z in lower case. For comparison only: not a name to be
// shown. Thread safe.
std::string FoldCase(std::string_view utf8);

}  // namespace samelight
