// Small text helpers of this room.
#pragma once

#include <string>
#include <string_view>

#include "base/base.hpp"

namespace vacuary::log {

inline constexpr std::string_view replacement_character = "\xEF\xBF\xBD";

// Without blanks around it.
[[nodiscard]] inline std::string_view trim(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

// Also without blanks that do not break, inside it they become plain ones.
[[nodiscard]] std::string plain_blanks(std::string_view text);

// "[mbar]" and "(mbar)" to "mbar".
[[nodiscard]] inline std::string_view without_brackets(std::string_view text) {
  const bool pair = text.size() > 2 && ((text.front() == '[' && text.back() == ']') ||
                                        (text.front() == '(' && text.back() == ')'));
  return pair ? text.substr(1, text.size() - 2) : text;
}

// Text fit to be shown and kept: what is not UTF-8 becomes U+FFFD.
[[nodiscard]] inline std::string clean(std::string_view text) {
  std::string out;
  for (;;) {
    const std::size_t bad = first_invalid_utf8(text);
    out += text.substr(0, bad);
    if (bad == std::string_view::npos) return out;
    out += replacement_character;
    text.remove_prefix(bad + 1);
  }
}

// The beginning of a cell, for messages.
[[nodiscard]] inline std::string shown(std::string_view text) { return clean(text.substr(0, 40)); }

// ASCII letters only.
[[nodiscard]] std::string lower(std::string_view text);

// A number or a stamp: "1-CH2 [mbar]" and "101 Druck" are names.
[[nodiscard]] bool is_value(std::string_view cell);

// Whether a header says that its column is a time or a date.
[[nodiscard]] bool named_like_time(std::string_view header);

// "12.5 s", "35 min", "2 h": a distance as a person says it.
[[nodiscard]] std::string say_seconds(std::int64_t ns);

}  // namespace vacuary::log
