#include "record/wire.hpp"

#include <cstdint>

namespace vacuary::record {
namespace {

constexpr std::string_view alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

}  // namespace

std::string to_base64(std::string_view bytes) {
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t bits = 0;
    for (std::size_t k = 0; k < 3; ++k) {
      bits = bits << 8U | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    }
    for (std::size_t k = 0; k < 4; ++k) {
      out += i + k <= bytes.size() ? alphabet[bits >> (18U - 6U * k) & 63U] : '=';
    }
  }
  return out;
}

std::optional<std::string> from_base64(std::string_view text) {
  if (text.size() % 4 != 0) return std::nullopt;
  std::string out;
  for (std::size_t i = 0; i < text.size(); i += 4) {
    std::uint32_t bits = 0;
    std::size_t used = 4;
    for (std::size_t k = 0; k < 4; ++k) {
      const bool padding = text[i + k] == '=';
      if (padding && (i + 4 != text.size() || k < 2)) return std::nullopt;
      if (padding && used == 4) used = k;
      const std::size_t value = padding ? 0 : alphabet.find(text[i + k]);
      if (value == std::string_view::npos || (!padding && used < k)) return std::nullopt;
      bits = bits << 6U | static_cast<std::uint32_t>(value);
    }
    for (std::size_t k = 0; k + 1 < used; ++k) out += static_cast<char>(bits >> (16U - 8U * k) & 255U);
  }
  // Only the canonical text comes back the same.
  if (to_base64(out) != text) return std::nullopt;
  return out;
}

std::string_view Wire::take(std::size_t count) {
  if (!good_ || count > rest_.size()) {
    good_ = false;
    return {};
  }
  const std::string_view taken = rest_.substr(0, count);
  rest_.remove_prefix(count);
  return taken;
}

std::uint32_t Wire::number() {
  std::uint32_t value = 0;
  for (const char ch : take(4)) value = value << 8U | static_cast<unsigned char>(ch);
  return value;
}

std::string_view Wire::text() {
  const std::uint32_t length = number();
  return take(length);
}

std::string wire_text(std::string_view bytes) {
  std::string out;
  for (unsigned shift = 32; shift > 0; shift -= 8) {
    out += static_cast<char>(static_cast<std::uint32_t>(bytes.size()) >> (shift - 8) & 255U);
  }
  return out.append(bytes);
}

}  // namespace vacuary::record
