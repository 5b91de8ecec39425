#include "base/result.h"

namespace samelight {

const char* ErrorCodeName(ErrorCode code) {
  switch (code) {
    case ErrorCode::kCancelled: return "cancelled";
    case ErrorCode::kNotFound: return "not-found";
    case ErrorCode::kPermission: return "permission";
    case ErrorCode::kUnreadable: return "unreadable";
    case ErrorCode::kDamaged: return "damaged";
    case ErrorCode::kUnsupported: return "unsupported";
    case ErrorCode::kTooLarge: return "too-large";
    case ErrorCode::kInvalidArgument: return "invalid-argument";
    case ErrorCode::kBusy: return "busy";
    case ErrorCode::kNoSpace: return "no-space";
    case ErrorCode::kNewerSchema: return "newer-schema";
    case ErrorCode::kNothingToDo: return "nothing-to-do";
    case ErrorCode::kInternal: return "internal";
  }
  return "internal";
}

std::string Error::Text() const {
  std::string text = what;
  if (!file.empty()) text += " (" + file + ")";
  if (!todo.empty()) text += ": " + todo;
  return text;
}

Error Error::In(const std::string& outer) const {
  Error copy = *this;
  copy.what = outer + ": " + what;
  return copy;
}

}  // namespace samelight
