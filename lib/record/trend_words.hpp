// How figures of a trend are written. Private to the room.
#pragma once

#include <string>

namespace vacuary::record {

// " mbar"; nothing for a pure number.
[[nodiscard]] inline std::string unit_after(const std::string& unit) {
  return unit.empty() || unit == "1" ? std::string{} : " " + unit;
}

// For a terminal: control characters become '?'.
[[nodiscard]] inline std::string plain_text(const std::string& text) {
  std::string out;
  for (const char ch : text) out += static_cast<unsigned char>(ch) < 0x20 || ch == 0x7F ? '?' : ch;
  return out;
}

}  // namespace vacuary::record
