#include "log/kernels.hpp"

#include <cstring>

namespace vacuary::log {

const double exact_powers_of_ten[23] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                        1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                        1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

namespace {

void index_portable(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  unsigned char all = 0;
  for (std::size_t i = 0; i < size; ++i) {
    const char c = text[i];
    all |= static_cast<unsigned char>(c);
    out.nul |= c == '\0';
    if (c == delimiter) {
      out.delimiters[delimiters++] = static_cast<std::uint32_t>(i);
    } else if (c == '\n' || (c == '\r' && text[i + 1] != '\n')) {
      out.ends[ends++] = static_cast<std::uint32_t>(i);
    }
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
  out.ascii = all < 0x80;
}

bool index_quoted_portable(const char* /*text*/, std::size_t /*size*/, char /*delimiter*/,
                           Positions& /*out*/) {
  return false;  // the record scanner does it
}

struct Plain {
  std::uint64_t mantissa = 0;
  std::uint32_t digits = 0, decimals = 0;
  std::int32_t exponent = 0;
};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

bool scan(const char* p, const char* end, char point, Plain& out) {
  for (; p < end && is_digit(*p); ++p, ++out.digits) {
    out.mantissa = out.mantissa * 10 + static_cast<std::uint64_t>(*p - '0');
  }
  if (p < end && *p == point) {
    for (++p; p < end && is_digit(*p); ++p, ++out.digits, ++out.decimals) {
      out.mantissa = out.mantissa * 10 + static_cast<std::uint64_t>(*p - '0');
    }
  }
  if (out.digits == 0) return false;
  if (p == end) return true;
  if (*p != 'e' && *p != 'E') return false;
  ++p;
  bool negative = false;
  if (p < end && (*p == '-' || *p == '+')) negative = *p++ == '-';
  const char* from = p;
  for (; p < end && p - from < 3 && is_digit(*p); ++p) out.exponent = out.exponent * 10 + (*p - '0');
  if (negative) out.exponent = -out.exponent;
  return p == end && p > from;
}

void numbers_portable(const char* text, const Tile& tile, char point, TileNumbers& out) {
  out.not_read = 0;
  out.largest_mantissa = 0;
  out.most_decimals = 0;
  for (std::size_t r = 0; r < tile.rows; ++r) {
    const char* p = text + tile.begin[r];
    const char* end = p + tile.length[r];
    out.value[r] = 0;
    const bool negative = p < end && *p == '-';
    Plain plain;
    bool good = tile.length[r] <= 16 && scan(p + (negative ? 1 : 0), end, point, plain);
    const std::int32_t power = plain.exponent - static_cast<std::int32_t>(plain.decimals);
    good = good && plain.mantissa <= std::uint64_t{1} << 53U && power >= -22 && power <= 22;
    if (!good) {
      out.not_read |= std::uint64_t{1} << r;
      continue;
    }
    const auto mantissa = static_cast<double>(plain.mantissa);
    const double value =
        power < 0 ? mantissa / exact_powers_of_ten[-power] : mantissa * exact_powers_of_ten[power];
    out.value[r] = negative ? -value : value;
    if (plain.mantissa > out.largest_mantissa) out.largest_mantissa = plain.mantissa;
    if (plain.decimals > out.most_decimals) out.most_decimals = plain.decimals;
  }
}

void same_portable(const double* values, std::size_t n, std::uint64_t* out) {
  for (std::size_t from = 0; from < n; from += 64) {
    std::uint64_t bits = 0;
    for (std::size_t i = from == 0 ? 1 : from; i < n && i < from + 64; ++i)
      bits |= static_cast<std::uint64_t>(values[i] == values[i - 1]) << (i - from);
    out[from / 64] = bits;
  }
}

#define VACUARY_LANES
#include "log/lanes.hpp"
#undef VACUARY_LANES

constexpr Kernels portable = {index_portable, index_quoted_portable, numbers_portable, same_portable, linear,
                              figures};

}  // namespace

const Kernels& kernels(InstructionSet set) {
  const bool any = set == InstructionSet::best;
  if (any || set == InstructionSet::avx512) {
    if (const Kernels* found = kernels_avx512()) return *found;
  }
  if (any || set == InstructionSet::avx512 || set == InstructionSet::avx2) {
    if (const Kernels* found = kernels_avx2()) return *found;
  }
  return portable;
}

}  // namespace vacuary::log
