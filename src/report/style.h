#pragma once

namespace samelight::report {

// The page's style sheet.
extern const char kStyle[];

}  // namespace samelight::report
