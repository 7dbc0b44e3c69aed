// UTF-8 from code points.
#pragma once

#include <cstdint>
#include <string>

namespace vacuary {

// Encodes one code point up to U+10FFFF (RFC 3629).
void append_utf8(std::string& out, std::uint32_t code);

}  // namespace vacuary
