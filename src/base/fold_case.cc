#include "base/fold_case.h"

#include <utf8proc.h>

#include <cstdlib>
#include <memory>

namespace samelight {
namespace {

struct Free {
  void operator()(utf8proc_uint8_t* text) const { std::free(text); }
};

// Empty when it is not UTF-8.
std::string Mapped(std::string_view utf8, int options) {
  utf8proc_uint8_t* made = nullptr;
  const auto length = utf8proc_map(reinterpret_cast<const utf8proc_uint8_t*>(utf8.data()),
                                   static_cast<utf8proc_ssize_t>(utf8.size()), &made,
                                   static_cast<utf8proc_option_t>(options));
  const std::unique_ptr<utf8proc_uint8_t, Free> owner(made);
  return length <= 0 ? std::string()
                     : std::string(reinterpret_cast<const char*>(made), static_cast<std::size_t>(length));
}

}  // namespace

std::string FoldCase(std::string_view utf8) {
  // Decomposed before and after: folding may bring in a composed character, and iota below folds by itself.
  constexpr int kDecomposed = UTF8PROC_STABLE | UTF8PROC_DECOMPOSE;
  const std::string apart = Mapped(utf8, kDecomposed);
  std::string folded = Mapped(Mapped(apart, kDecomposed | UTF8PROC_CASEFOLD), kDecomposed);
  if (!folded.empty()) return folded;
  folded = utf8;
  for (char& c : folded)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return folded;
}

}  // namespace samelight
