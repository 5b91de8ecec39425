// What a step returns: a value, or an error that tells a person what failed, in which file, and what to do.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>

namespace samelight {

enum class ErrorCode {
  kCancelled,        // the person asked to stop; never counted as success
  kNotFound,         // a file or entry is missing
  kPermission,       // the system refuses to read or write
  kUnreadable,       // input/output error while reading
  kDamaged,          // the file is not what it claims to be, or ends early
  kUnsupported,      // a kind of file, or a variant of it, that is not read
  kTooLarge,         // above the limits on pixels or memory
  kInvalidArgument,  // a value is outside its range, or an option is used wrongly
  kBusy,             // another process holds the session
  kNoSpace,          // the disk is full
  kNewerSchema,      // written by a later version
  kNothingToDo,      // the request holds no usable input
  kInternal,         // a library failed in an unexpected way
};

// A short lower-case word for `code`, used in --json output: "cancelled", "not-found", ...
const char* ErrorCodeName(ErrorCode code);

struct Error {
  ErrorCode code = ErrorCode::kInternal;
  std::string what;  // what failed, one sentence without a full stop
  std::string file;  // the file it is about; empty if none
  std::string todo;  // what a person can do about it; may be empty

  // "what (file): todo" in one line.
  std::string Text() const;
  // Puts `outer` in front of `what`: "outer: what".
  Error In(const std::string& outer) const;
};

// A value or an Error. Not thread safe; move it out once.
template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}  // NOLINT: implicit on purpose
  Result(Error error) : state_(std::in_place_index<1>, std::move(error)) {}  // NOLINT: implicit on purpose
  bool ok() const { return state_.index() == 0; }
  explicit operator bool() const { return ok(); }
  T& value() & { return std::get<0>(state_); }
  const T& value() const& { return std::get<0>(state_); }
  T&& value() && { return std::get<0>(std::move(state_)); }
  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }
  const Error& error() const { return std::get<1>(state_); }

 private:
  std::variant<T, Error> state_;
};

// Success without a value, or an Error.
class [[nodiscard]] Status {
 public:
  Status() = default;
  Status(Error error) : error_(std::move(error)) {}  // NOLINT: implicit on purpose
  bool ok() const { return !error_.has_value(); }
  explicit operator bool() const { return ok(); }
  const Error& error() const { return *error_; }

 private:
  std::optional<Error> error_;
};

}  // namespace samelight
