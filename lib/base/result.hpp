// The error policy in one type: whatever a user's file can cause is a value, not an exception.
//
// A Result holds a T, or it does not; either way it carries what there is to say. A Result with a
// value may still carry errors (a loader that could read on): callers ask `ok()`.
#pragma once

#include <optional>
#include <utility>

#include "base/diagnostic.hpp"

namespace vacuary {

template <class T>
class Result {
 public:
  Result(T value, Diagnostics diagnostics = {})  // NOLINT(google-explicit-constructor)
      : value_(std::move(value)), diagnostics_(std::move(diagnostics)) {}
  Result(Diagnostic failure) {  // NOLINT(google-explicit-constructor)
    diagnostics_.push_back(std::move(failure));
  }
  Result(Diagnostics failures)  // NOLINT(google-explicit-constructor)
      : diagnostics_(std::move(failures)) {}

  // A value is there and nothing of severity error was said.
  [[nodiscard]] bool ok() const { return value_.has_value() && !has_errors(diagnostics_); }
  [[nodiscard]] bool has_value() const { return value_.has_value(); }

  // Precondition of the next three: has_value().
  [[nodiscard]] const T& value() const& { return value_.value(); }
  [[nodiscard]] T& value() & { return value_.value(); }
  [[nodiscard]] T&& value() && { return std::move(value_).value(); }

  [[nodiscard]] const Diagnostics& diagnostics() const { return diagnostics_; }
  [[nodiscard]] Diagnostics& diagnostics() { return diagnostics_; }

 private:
  std::optional<T> value_;
  Diagnostics diagnostics_;
};

}  // namespace vacuary
