// The inner loops with AVX2 and AVX-512, apart from numbers (numbers_x86.cpp).
#include "log/kernels_x86.hpp"

#if defined(__x86_64__)

#include <immintrin.h>

#include <array>
#include <cstring>

#include "log/record.hpp"

namespace vacuary::log {
namespace {

VACUARY_AVX2 void same_avx2(const double* values, std::size_t n, std::uint64_t* out) {
  for (std::size_t from = 0; from < n; from += 64) {
    const std::size_t rows = n - from < 64 ? n - from : 64;
    std::uint64_t bits = 0;
    std::size_t i = from == 0 ? 1 : 0;  // the first row of all has none before it
    const auto one = [&](std::size_t k) {
      bits |= static_cast<std::uint64_t>(values[from + k] == values[from + k - 1]) << k;
    };
    for (; i < rows && i % 4 != 0; ++i) one(i);
    for (; i + 4 <= rows; i += 4) {
      const __m256d now = _mm256_loadu_pd(values + from + i);
      const __m256d before = _mm256_loadu_pd(values + from + i - 1);
      const int equal = _mm256_movemask_pd(_mm256_cmp_pd(now, before, _CMP_EQ_OQ));
      bits |= static_cast<std::uint64_t>(static_cast<unsigned>(equal)) << i;
    }
    for (; i < rows; ++i) one(i);
    out[from / 64] = bits;
  }
}

// Writes the positions of the set bits, `usual` of them whatever their number, so that the processor need
// not guess it: what is written too much is overwritten.
template <std::size_t usual>
VACUARY_AVX2 VACUARY_INLINE std::size_t write_bits(std::uint64_t bits, std::uint32_t base, std::uint32_t* out,
                                                   std::size_t n) {
  const auto count = static_cast<std::size_t>(__builtin_popcountll(bits));
  std::uint32_t* to = out + n;
  for (std::size_t k = 0; k < usual; ++k) {
    to[k] = base + static_cast<std::uint32_t>(_tzcnt_u64(bits));
    bits = _blsr_u64(bits);
  }
  for (std::size_t k = usual; k < count; ++k) {
    to[k] = base + static_cast<std::uint32_t>(_tzcnt_u64(bits));
    bits = _blsr_u64(bits);
  }
  return n + count;
}
constexpr std::size_t usual_cells = 12, usual_ends = 1;  // in 64 bytes of a log with many short numbers

struct Masks {
  std::uint64_t delimiter, lf, cr, quote, nul, high;
};

struct Avx2 {
  VACUARY_AVX2 static VACUARY_INLINE std::uint64_t equal(__m256i a, __m256i b, char c) {
    const __m256i wanted = _mm256_set1_epi8(c);
    const auto low = static_cast<std::uint32_t>(_mm256_movemask_epi8(_mm256_cmpeq_epi8(a, wanted)));
    const auto high = static_cast<std::uint32_t>(_mm256_movemask_epi8(_mm256_cmpeq_epi8(b, wanted)));
    return static_cast<std::uint64_t>(high) << 32U | low;
  }
  VACUARY_AVX2 static VACUARY_INLINE Masks masks(const char* p, char delimiter) {
    const __m256i a = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(p));
    const __m256i b = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(p + 32));
    const auto high = static_cast<std::uint64_t>(static_cast<std::uint32_t>(_mm256_movemask_epi8(b))) << 32U |
                      static_cast<std::uint32_t>(_mm256_movemask_epi8(a));
    return {equal(a, b, delimiter), equal(a, b, '\n'), equal(a, b, '\r'),
            equal(a, b, '"'),       equal(a, b, '\0'), high};
  }
};

// Line ends: LF, and CR that no LF follows.
VACUARY_INLINE std::uint64_t line_ends(const Masks& m, const char* block) {
  if (m.cr == 0) return m.lf;
  const std::uint64_t next_lf = m.lf >> 1U | static_cast<std::uint64_t>(block[64] == '\n') << 63U;
  return m.lf | (m.cr & ~next_lf);
}

// Bit i: an odd number of bits is set at or below i.
VACUARY_INLINE std::uint64_t prefix_xor(std::uint64_t x) {
  x ^= x << 1U;
  x ^= x << 2U;
  x ^= x << 4U;
  x ^= x << 8U;
  x ^= x << 16U;
  return x ^ x << 32U;
}

// Whether quotation marks stand where marks may open and close, and no line ends inside.
struct QuoteState {
  std::uint64_t inside = 0;     // all ones: the block begins inside a quoted cell
  std::uint64_t may_open = 1;   // bit 0: the byte before the block lets a cell begin
  std::uint64_t was_close = 0;  // bit 0: the byte before the block is a closing mark
  std::size_t long_cell = 0;    // blocks in a row that a quoted cell fills
};

VACUARY_INLINE bool quotes_in_order(const Masks& m, const char* block, char delimiter, QuoteState& state,
                                    std::uint64_t& inside) {
  inside = prefix_xor(m.quote) ^ state.inside;
  const std::uint64_t parts = m.delimiter | m.lf | m.cr;
  const std::uint64_t open = m.quote & inside;
  const std::uint64_t close = m.quote & ~inside;
  const std::uint64_t open_allowed = parts << 1U | state.may_open | close << 1U | state.was_close;
  const char next = block[64];
  const bool next_parts = next == delimiter || next == '\n' || next == '\r';
  const std::uint64_t close_allowed =
      parts >> 1U | open >> 1U | (next_parts || next == '"' ? std::uint64_t{1} << 63U : 0);
  const bool good =
      (open & ~open_allowed) == 0 && (close & ~close_allowed) == 0 && ((m.lf | m.cr) & inside) == 0;
  // A quoted cell near the limit of its length: the record scanner knows the limit to the byte.
  state.long_cell = inside == ~std::uint64_t{0} && m.quote == 0 ? state.long_cell + 1 : 0;
  if (state.long_cell > quoted_bytes / 64 - 8) return false;
  state.inside = inside >> 63U ? ~std::uint64_t{0} : 0;
  state.may_open = parts >> 63U;
  state.was_close = close >> 63U;
  return good;
}

// What is rare is only looked for together, in all bytes or in a whole block.
VACUARY_AVX2 void index_avx2(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  std::size_t i = 0;
  const __m256i cr = _mm256_set1_epi8('\r');
  __m256i seen = _mm256_setzero_si256(), least = _mm256_set1_epi8(-1);
  for (; i + 64 <= size; i += 64) {
    const __m256i a = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(text + i));
    const __m256i b = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(text + i + 32));
    seen = _mm256_or_si256(seen, _mm256_or_si256(a, b));
    least = _mm256_min_epu8(least, _mm256_min_epu8(a, b));
    const auto at = static_cast<std::uint32_t>(i);
    delimiters = write_bits<usual_cells>(Avx2::equal(a, b, delimiter), at, out.delimiters, delimiters);
    Masks m{};
    m.lf = Avx2::equal(a, b, '\n');
    const __m256i crs = _mm256_or_si256(_mm256_cmpeq_epi8(a, cr), _mm256_cmpeq_epi8(b, cr));
    if (_mm256_testz_si256(crs, crs) == 0) m.cr = Avx2::equal(a, b, '\r');
    ends = write_bits<usual_ends>(line_ends(m, text + i), at, out.ends, ends);
  }
  const __m256i zero = _mm256_setzero_si256();
  std::uint64_t high = static_cast<std::uint32_t>(_mm256_movemask_epi8(seen));
  std::uint64_t nul = static_cast<std::uint32_t>(_mm256_movemask_epi8(_mm256_cmpeq_epi8(least, zero)));
  if (i < size) {
    const Masks m = Avx2::masks(text + i, delimiter);
    const std::uint64_t inside = (std::uint64_t{1} << (size - i)) - 1;
    const auto at = static_cast<std::uint32_t>(i);
    delimiters = write_bits<usual_cells>(m.delimiter & inside, at, out.delimiters, delimiters);
    ends = write_bits<usual_ends>(line_ends(m, text + i) & inside, at, out.ends, ends);
    high |= m.high & inside;
    nul |= m.nul & inside;
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
  out.ascii = high == 0;
  out.nul = nul != 0;
}

VACUARY_AVX2 bool index_quoted_avx2(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  std::uint64_t high = 0;
  std::uint64_t nul = 0;
  QuoteState state;
  for (std::size_t i = 0; i < size; i += 64) {
    const Masks m = Avx2::masks(text + i, delimiter);
    std::uint64_t quoted = 0;
    if (!quotes_in_order(m, text + i, delimiter, state, quoted)) return false;
    const std::uint64_t valid = size - i >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << (size - i)) - 1;
    const auto at = static_cast<std::uint32_t>(i);
    delimiters = write_bits<usual_cells>(m.delimiter & ~quoted & valid, at, out.delimiters, delimiters);
    ends = write_bits<usual_ends>(line_ends(m, text + i) & ~quoted & valid, at, out.ends, ends);
    high |= m.high & valid;
    nul |= m.nul & valid;
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
  out.ascii = high == 0;
  out.nul = nul != 0;
  return state.inside == 0;
}

VACUARY_AVX512 VACUARY_INLINE std::size_t compress_bits(std::uint64_t bits, __m512i base, std::uint32_t* out,
                                                        std::size_t n) {
  const __m512i lane = _mm512_set_epi32(15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0);
  for (unsigned quarter = 0; quarter < 4; ++quarter) {
    const auto mask = static_cast<__mmask16>(bits >> (16U * quarter));
    const __m512i at =
        _mm512_add_epi32(_mm512_add_epi32(base, lane), _mm512_set1_epi32(static_cast<int>(16U * quarter)));
    _mm512_storeu_si512(out + n, _mm512_maskz_compress_epi32(mask, at));
    n += static_cast<std::size_t>(__builtin_popcount(mask));
  }
  return n;
}

VACUARY_AVX512 void index_avx512(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  std::uint64_t high = 0;
  std::uint64_t nul = 0;
  const __m512i wanted = _mm512_set1_epi8(delimiter);
  const __m512i lf = _mm512_set1_epi8('\n');
  const __m512i cr = _mm512_set1_epi8('\r');
  for (std::size_t i = 0; i < size; i += 64) {
    const __m512i bytes = _mm512_loadu_si512(text + i);
    const Masks m = {_mm512_cmpeq_epi8_mask(bytes, wanted), _mm512_cmpeq_epi8_mask(bytes, lf),
                     _mm512_cmpeq_epi8_mask(bytes, cr),     0,
                     _mm512_testn_epi8_mask(bytes, bytes),  _mm512_movepi8_mask(bytes)};
    const std::uint64_t valid = size - i >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << (size - i)) - 1;
    delimiters = compress_bits(m.delimiter & valid, _mm512_set1_epi32(static_cast<int>(i)), out.delimiters,
                               delimiters);
    const std::uint64_t line_end = line_ends(m, text + i) & valid;
    ends = write_bits<usual_ends>(line_end, static_cast<std::uint32_t>(i), out.ends, ends);
    high |= m.high & valid;
    nul |= m.nul & valid;
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
  out.ascii = high == 0;
  out.nul = nul != 0;
}

#define VACUARY_LANES VACUARY_AVX2
#include "log/lanes.hpp"
#undef VACUARY_LANES

constexpr Kernels avx2 = {index_avx2, index_quoted_avx2, numbers_avx2, same_avx2, linear, figures};
constexpr Kernels avx512 = {index_avx512, index_quoted_avx2, numbers_avx2, same_avx2, linear, figures};

bool has_avx2() {
  return __builtin_cpu_supports("avx2") != 0 && __builtin_cpu_supports("bmi") != 0 &&
         __builtin_cpu_supports("bmi2") != 0 && __builtin_cpu_supports("popcnt") != 0;
}

}  // namespace

const Kernels* kernels_avx2() {
  static const bool there = has_avx2();
  return there ? &avx2 : nullptr;
}

const Kernels* kernels_avx512() {
  static const bool there = has_avx2() && __builtin_cpu_supports("avx512f") != 0 &&
                            __builtin_cpu_supports("avx512bw") != 0 &&
                            __builtin_cpu_supports("avx512vl") != 0;
  return there ? &avx512 : nullptr;
}

}  // namespace vacuary::log

#else

namespace vacuary::log {
const Kernels* kernels_avx2() { return nullptr; }
const Kernels* kernels_avx512() { return nullptr; }
}  // namespace vacuary::log

#endif
