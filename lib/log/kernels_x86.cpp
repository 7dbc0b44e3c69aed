// The inner loops with AVX2 and AVX-512. Each function states the instructions it needs, so the
// rest of the program runs on any processor; kernels() asks the processor before it uses them.
//
// Numbers: the 16 bytes of a cell become digits at once; a table of shuffles takes the point out
// and moves the digits to the right end; three multiply-adds make them one integer (the way of
// W. Mula and D. Lemire for base ten). One exact multiplication or division follows (number.hpp).
#include "log/kernels.hpp"

#if defined(__x86_64__)

#include <immintrin.h>

#include <array>
#include <cstring>

#include "log/record.hpp"

#define VACUARY_AVX2 __attribute__((target("avx2,bmi,bmi2,lzcnt,popcnt")))
#define VACUARY_AVX512 __attribute__((target("avx512f,avx512bw,avx512vl,avx2,bmi,bmi2,lzcnt,popcnt,pclmul")))
#define VACUARY_INLINE __attribute__((always_inline)) inline

namespace vacuary::log {
namespace {

// shuffles[point][digits]: byte b of the result is digit b - (16 - digits) of the cell, which
// stands one byte further when it is behind the point; 0x80 makes a zero.
struct Shuffles {
  alignas(64) std::array<std::array<std::array<std::uint8_t, 16>, 17>, 17> of{};
};

constexpr Shuffles make_shuffles() {
  Shuffles out;
  for (unsigned point = 0; point <= 16; ++point) {
    for (unsigned digits = 0; digits <= 16; ++digits) {
      for (unsigned b = 0; b < 16; ++b) {
        const unsigned before = 16 - digits;
        const unsigned digit = b - before;
        const unsigned source = digit < point ? digit : digit + 1;
        out.of[point][digits][b] = b < before || source > 15 ? 0x80 : static_cast<std::uint8_t>(source);
      }
    }
  }
  return out;
}

constexpr Shuffles shuffles = make_shuffles();

// 10^e for e from -22 to 22 as a divisor and a factor: one of the two is 1.
struct Scale {
  double factor, divisor;
};
constexpr std::array<Scale, 45> make_scales() {
  std::array<Scale, 45> out{};
  double power = 1;
  for (std::size_t e = 0; e <= 22; ++e) {
    out[22 + e] = {power, 1};
    out[22 - e] = {1, power};
    power *= 10;
  }
  return out;
}
constexpr std::array<Scale, 45> scales = make_scales();

// What the bytes of a number are apart from its digits' values. The cells of a column mostly have the
// form of the cell above, so that it is worked out once and then only compared.
struct Form {
  __m128i bytes{};          // of the cell it was taken from: those that are no digits have to be the same
  __m128i order{};          // the shuffle that puts the mantissa's digits at the right end
  std::uint32_t n = 0;      // bytes without the sign; 0: no number
  std::uint32_t other = 0;  // bit i: byte i is no digit
  std::uint32_t decimals = 0;
  std::uint32_t exponent_at = 0, exponent_digits = 0;
  bool exponent_negative = false;
};

// Finds point and exponent of the `n` bytes at p; n stays 0 if this is no plain number.
VACUARY_AVX2 Form form_of(const char* p, std::uint32_t n, std::uint32_t other, __m128i bytes, char point) {
  Form form;
  form.bytes = bytes;
  form.other = other;
  std::uint32_t mantissa_end = n;
  std::uint32_t point_at = n;
  if (other != 0) {
    const auto first = static_cast<std::uint32_t>(__builtin_ctz(other));
    if (p[first] == point) {
      point_at = first;
      other &= other - 1;
    }
    if (other != 0) {
      mantissa_end = static_cast<std::uint32_t>(__builtin_ctz(other));
      if ((p[mantissa_end] | 0x20) != 'e') return form;
      other &= other - 1;
      form.exponent_at = mantissa_end + 1;
      if (other == 1U << form.exponent_at) {
        form.exponent_negative = p[form.exponent_at] == '-';
        if (!form.exponent_negative && p[form.exponent_at] != '+') return form;
        other = 0;
        ++form.exponent_at;
      }
      if (other != 0) return form;
      form.exponent_digits = n - form.exponent_at;
      if (form.exponent_digits == 0 || form.exponent_digits > 3) return form;
    }
  }
  const bool has_point = point_at < mantissa_end;
  if (!has_point) point_at = mantissa_end;
  const std::uint32_t count = mantissa_end - (has_point ? 1U : 0U);
  if (count == 0) return form;
  form.decimals = count - point_at;
  form.order = _mm_load_si128(reinterpret_cast<const __m128i*>(shuffles.of[point_at][count].data()));
  form.n = n;
  return form;
}

VACUARY_INLINE std::int32_t exponent_of(const Form& form, const char* p) {
  std::int32_t value = 0;
  for (std::uint32_t i = 0; i < form.exponent_digits; ++i)
    value = value * 10 + (p[form.exponent_at + i] - '0');
  return form.exponent_negative ? -value : value;
}

VACUARY_AVX2 VACUARY_INLINE std::uint64_t mantissa_of(__m128i digits, const Form& form) {
  const __m128i tens = _mm_set_epi8(1, 10, 1, 10, 1, 10, 1, 10, 1, 10, 1, 10, 1, 10, 1, 10);
  const __m128i hundreds = _mm_set_epi16(1, 100, 1, 100, 1, 100, 1, 100);
  const __m128i ten_thousands = _mm_set_epi16(1, 10000, 1, 10000, 1, 10000, 1, 10000);
  const __m128i right = _mm_shuffle_epi8(digits, form.order);
  const __m128i pairs = _mm_maddubs_epi16(right, tens);
  const __m128i fours = _mm_madd_epi16(pairs, hundreds);
  const __m128i eights = _mm_madd_epi16(_mm_packus_epi32(fours, fours), ten_thousands);
  const auto both = static_cast<std::uint64_t>(_mm_cvtsi128_si64(eights));
  return (both & 0xFFFFFFFFU) * 100000000U + (both >> 32U);
}

VACUARY_AVX2 void numbers_avx2(const char* text, const Tile& tile, char point, TileNumbers& out) {
  std::uint64_t not_read = 0;
  std::uint64_t largest = 0;
  std::uint32_t decimals = 0;
  Form form;
  for (std::size_t r = 0; r < tile.rows; ++r) {
    const char* p = text + tile.begin[r];
    const bool negative = *p == '-';
    p += negative ? 1 : 0;
    const std::uint32_t n = tile.length[r] - (negative ? 1U : 0U);
    out.value[r] = 0;
    if (n - 1U > 15U) {
      not_read |= std::uint64_t{1} << r;
      continue;
    }
    const __m128i bytes = _mm_loadu_si128(reinterpret_cast<const __m128i*>(p));
    const __m128i digits = _mm_sub_epi8(bytes, _mm_set1_epi8('0'));
    const __m128i is_digit = _mm_cmpeq_epi8(_mm_min_epu8(digits, _mm_set1_epi8(9)), digits);
    const std::uint32_t other = ~static_cast<std::uint32_t>(_mm_movemask_epi8(is_digit)) & ((1U << n) - 1U);
    if (n != form.n || other != form.other ||
        (other & ~static_cast<std::uint32_t>(_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, form.bytes)))) != 0) {
      form = form_of(p, n, other, bytes, point);
    }
    const std::uint64_t mantissa = mantissa_of(digits, form);
    const std::int32_t power = exponent_of(form, p) - static_cast<std::int32_t>(form.decimals);
    if (form.n == 0 || mantissa > std::uint64_t{1} << 53U || power < -22 || power > 22) {
      not_read |= std::uint64_t{1} << r;
      continue;
    }
    const Scale scale = scales[static_cast<std::size_t>(power + 22)];
    // One of the two is by 1 and exact, so this rounds once.
    const double value =
        static_cast<double>(static_cast<std::int64_t>(mantissa)) * scale.factor / scale.divisor;
    out.value[r] = negative ? -value : value;
    largest = mantissa > largest ? mantissa : largest;
    decimals = form.decimals > decimals ? form.decimals : decimals;
  }
  out.not_read = not_read;
  out.largest_mantissa = largest;
  out.most_decimals = decimals;
}

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

// Writes the positions of the set bits, eight at a time: what is written too much is overwritten.
VACUARY_AVX2 VACUARY_INLINE std::size_t write_bits(std::uint64_t bits, std::uint32_t base, std::uint32_t* out,
                                                   std::size_t n) {
  const auto count = static_cast<std::size_t>(__builtin_popcountll(bits));
  std::uint32_t* to = out + n;
  for (std::size_t done = 0; done < count; done += 8) {
    for (std::size_t k = 0; k < 8; ++k) {
      to[done + k] = base + static_cast<std::uint32_t>(_tzcnt_u64(bits));
      bits = _blsr_u64(bits);
    }
  }
  return n + count;
}

struct Masks {
  std::uint64_t delimiter, lf, cr, quote;
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
    return {equal(a, b, delimiter), equal(a, b, '\n'), equal(a, b, '\r'), equal(a, b, '"')};
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

VACUARY_AVX2 void index_avx2(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  for (std::size_t i = 0; i < size; i += 64) {
    const Masks m = Avx2::masks(text + i, delimiter);
    const std::uint64_t inside = size - i >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << (size - i)) - 1;
    delimiters = write_bits(m.delimiter & inside, static_cast<std::uint32_t>(i), out.delimiters, delimiters);
    ends = write_bits(line_ends(m, text + i) & inside, static_cast<std::uint32_t>(i), out.ends, ends);
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
}

VACUARY_AVX2 bool index_quoted_avx2(const char* text, std::size_t size, char delimiter, Positions& out) {
  std::size_t delimiters = 0;
  std::size_t ends = 0;
  QuoteState state;
  for (std::size_t i = 0; i < size; i += 64) {
    const Masks m = Avx2::masks(text + i, delimiter);
    std::uint64_t quoted = 0;
    if (!quotes_in_order(m, text + i, delimiter, state, quoted)) return false;
    const std::uint64_t valid = size - i >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << (size - i)) - 1;
    delimiters =
        write_bits(m.delimiter & ~quoted & valid, static_cast<std::uint32_t>(i), out.delimiters, delimiters);
    ends =
        write_bits(line_ends(m, text + i) & ~quoted & valid, static_cast<std::uint32_t>(i), out.ends, ends);
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
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
  const __m512i wanted = _mm512_set1_epi8(delimiter);
  const __m512i lf = _mm512_set1_epi8('\n');
  const __m512i cr = _mm512_set1_epi8('\r');
  for (std::size_t i = 0; i < size; i += 64) {
    const __m512i bytes = _mm512_loadu_si512(text + i);
    const Masks m = {_mm512_cmpeq_epi8_mask(bytes, wanted), _mm512_cmpeq_epi8_mask(bytes, lf),
                     _mm512_cmpeq_epi8_mask(bytes, cr), 0};
    const std::uint64_t valid = size - i >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << (size - i)) - 1;
    delimiters = compress_bits(m.delimiter & valid, _mm512_set1_epi32(static_cast<int>(i)), out.delimiters,
                               delimiters);
    const std::uint64_t line_end = line_ends(m, text + i) & valid;
    if (line_end != 0) ends = write_bits(line_end, static_cast<std::uint32_t>(i), out.ends, ends);
  }
  out.delimiter_count = delimiters;
  out.end_count = ends;
}

constexpr Kernels avx2 = {index_avx2, index_quoted_avx2, numbers_avx2, same_avx2};
constexpr Kernels avx512 = {index_avx512, index_quoted_avx2, numbers_avx2, same_avx2};

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
