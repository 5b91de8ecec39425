// Small pieces of HTML.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace samelight::report {

// Text that is safe between tags and inside quoted attributes. Control characters other than tab and line
// feed become U+FFFD, so do bytes that are not UTF-8.
std::string Escape(std::string_view text);

// RFC 4648, section 4, with padding.
std::string Base64(std::span<const std::uint8_t> bytes);

// "data:image/jpeg;base64,..."
std::string JpegUri(std::span<const std::uint8_t> jpeg);

}  // namespace samelight::report
