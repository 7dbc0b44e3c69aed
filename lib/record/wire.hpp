// Base64 (RFC 4648) and the strings of the SSH wire format (RFC 4251 section 5). Private to the room.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace vacuary::record {

[[nodiscard]] std::string to_base64(std::string_view bytes);
// Nothing for text that is not the one way to write its bytes: stray characters, missing or excess
// padding, bits set beyond the last byte.
[[nodiscard]] std::optional<std::string> from_base64(std::string_view text);

// Takes fields off the front of `rest`; once something is short, good() is false and stays so.
class Wire {
 public:
  explicit Wire(std::string_view bytes) : rest_(bytes) {}
  [[nodiscard]] std::string_view take(std::size_t count);
  [[nodiscard]] std::uint32_t number();
  [[nodiscard]] std::string_view text();  // a length, then so many bytes
  [[nodiscard]] bool good() const { return good_; }
  [[nodiscard]] bool done() const { return good_ && rest_.empty(); }

 private:
  std::string_view rest_;
  bool good_ = true;
};

[[nodiscard]] std::string wire_text(std::string_view bytes);

}  // namespace vacuary::record
