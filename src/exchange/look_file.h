// A learned look as a file of its own: JSON (RFC 8259), UTF-8, described in docs/looks.md.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "record/learned_look.h"

namespace samelight::exchange {

inline constexpr std::uint64_t kMostLookBytes = 4u << 20;
inline constexpr int kMostLessons = 64;

// The text of a file; ends with a line feed. Numbers are rounded to nine digits.
std::string LookText(const record::LearnedLook& look);

// Reads such a text, strictly: what comes back fits the ranges of record::LookNumbers() and RuleNumbers(),
// every spread is positive and finite, every covariance positive definite, names are free of control
// characters. `file`: named in errors. kTooLarge above kMostLookBytes, kDamaged (says which entry and why),
// kNewerSchema for a version that is not known. Thread safe.
Result<record::LearnedLook> ReadLook(std::string_view text, const std::string& file);

}  // namespace samelight::exchange
