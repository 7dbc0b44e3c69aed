// Plain numbers with AVX2.
//
// The 16 bytes of a cell become digits at once; a table of shuffles takes the point out and moves the
// digits to the right end; three multiply-adds make them one integer (the way of W. Mula and D. Lemire
// for base ten). One exact multiplication or division follows (number.hpp). Four cells of one form go
// together.
#include "log/kernels_x86.hpp"

#if defined(__x86_64__)

#include <immintrin.h>

#include <array>

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
constexpr std::uint64_t largest_exact = std::uint64_t{1} << 53U;
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
      const std::uint32_t exponent_digits = n - form.exponent_at;
      if (exponent_digits == 0 || exponent_digits > 3) return form;
      form.exponent_digits = exponent_digits;
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

// What a tile's cells have shown so far.
struct Reading {
  std::uint64_t not_read = 0, largest = 0;
  std::uint32_t decimals = 0;
};

// One cell; `form` becomes its form.
VACUARY_AVX2 VACUARY_INLINE void read_one(const char* text, const Tile& tile, std::size_t r, char point,
                                          Form& form, TileNumbers& out, Reading& reading) {
  const char* p = text + tile.begin[r];
  const bool negative = *p == '-';
  p += negative ? 1 : 0;
  const std::uint32_t n = tile.length[r] - (negative ? 1U : 0U);
  out.value[r] = 0;
  if (n - 1U > 15U) {
    reading.not_read |= std::uint64_t{1} << r;
    return;
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
  if (form.n == 0 || mantissa > largest_exact || power < -22 || power > 22) {
    reading.not_read |= std::uint64_t{1} << r;
    return;
  }
  const Scale scale = scales[static_cast<std::size_t>(power + 22)];
  // One of the two is by 1 and exact, so this rounds once.
  const double value =
      static_cast<double>(static_cast<std::int64_t>(mantissa)) * scale.factor / scale.divisor;
  out.value[r] = negative ? -value : value;
  reading.largest = mantissa > reading.largest ? mantissa : reading.largest;
  reading.decimals = form.decimals > reading.decimals ? form.decimals : reading.decimals;
}

VACUARY_INLINE void tell(const Reading& reading, TileNumbers& out) {
  out.not_read = reading.not_read;
  out.largest_mantissa = reading.largest;
  out.most_decimals = reading.decimals;
}

// What four cells have to be alike in to be read together: the bytes that are no digits of the mantissa.
struct FourForm {
  __m256i bytes, fixed,
      digits;     // in both halves: of the first cell; which of them have to be; which are digits
  __m256i order;  // the digits of the mantissa to the right end
  __m128i length;
  __m256d factor, divisor, sign;
  bool divides = false;
  bool usable = false;
  std::uint32_t decimals = 0;
};

// All bits of each byte whose bit is set, in both halves.
VACUARY_AVX2 VACUARY_INLINE __m256i spread(std::uint32_t bits) {
  const __m128i bit = _mm_set_epi8(-128, 64, 32, 16, 8, 4, 2, 1, -128, 64, 32, 16, 8, 4, 2, 1);
  const __m128i half = _mm_set_epi8(1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0);
  const __m128i at = _mm_shuffle_epi8(_mm_cvtsi32_si128(static_cast<int>(bits)), half);
  return _mm256_broadcastsi128_si256(_mm_cmpeq_epi8(_mm_and_si128(at, bit), bit));
}

// From a cell and the form that read_one made of it, or of one before if it could not be read.
VACUARY_AVX2 VACUARY_INLINE FourForm four_form(const Form& form, const char* cell, std::uint32_t length) {
  FourForm four{};
  const bool negative = *cell == '-';
  const std::uint32_t shift = negative ? 1 : 0;
  const std::uint32_t mantissa_bytes = form.exponent_digits > 0 ? form.exponent_at : form.n;
  // Up to 15 digits every mantissa is exact.
  const bool of_this_cell = form.n > 0 && length == form.n + shift && length <= 16;
  const std::int32_t power = exponent_of(form, cell + shift) - static_cast<std::int32_t>(form.decimals);
  if (!of_this_cell || mantissa_bytes > 15 || power < -22 || power > 22) return four;
  const std::uint32_t exponent =
      form.exponent_digits > 0 ? ((1U << form.n) - 1U) & ~((1U << form.exponent_at) - 1U) : 0;
  const std::uint32_t fixed = (form.other | exponent) << shift | shift;
  const std::uint32_t digits = ((1U << length) - 1U) & ~fixed;
  four.bytes = _mm256_broadcastsi128_si256(_mm_loadu_si128(reinterpret_cast<const __m128i*>(cell)));
  four.fixed = spread(fixed);
  four.digits = spread(digits);
  // A place that takes nothing has its high bit set, and keeps it.
  four.order = _mm256_broadcastsi128_si256(_mm_add_epi8(form.order, _mm_set1_epi8(static_cast<char>(shift))));
  four.length = _mm_set1_epi32(static_cast<int>(length));
  const Scale scale = scales[static_cast<std::size_t>(power + 22)];
  four.factor = _mm256_set1_pd(scale.factor);
  four.divisor = _mm256_set1_pd(scale.divisor);
  four.divides = power < 0;
  four.sign = _mm256_set1_pd(negative ? -0.0 : 0.0);
  four.decimals = form.decimals;
  four.usable = true;
  return four;
}

VACUARY_AVX2 VACUARY_INLINE __m256i load_two(const char* text, const std::uint32_t* begin) {
  const __m128i one = _mm_loadu_si128(reinterpret_cast<const __m128i*>(text + begin[0]));
  const __m128i two = _mm_loadu_si128(reinterpret_cast<const __m128i*>(text + begin[1]));
  return _mm256_inserti128_si256(_mm256_castsi128_si256(one), two, 1);
}

// Zero where the bytes are as the form wants them.
VACUARY_AVX2 VACUARY_INLINE __m256i unlike(__m256i bytes, __m256i digits, const FourForm& form) {
  const __m256i no_digit = _mm256_subs_epu8(digits, _mm256_set1_epi8(9));
  return _mm256_or_si256(_mm256_and_si256(_mm256_xor_si256(bytes, form.bytes), form.fixed),
                         _mm256_and_si256(no_digit, form.digits));
}

VACUARY_AVX2 VACUARY_INLINE __m256i fours_of(__m256i digits, __m256i order) {
  const __m256i tens = _mm256_set1_epi16(0x010A);  // 10 for the byte in front, 1 for the one behind
  const __m256i hundreds = _mm256_set1_epi32(0x0001'0064);
  return _mm256_madd_epi16(_mm256_maddubs_epi16(_mm256_shuffle_epi8(digits, order), tens), hundreds);
}

// Rows r to r + 3, if all have this form.
VACUARY_AVX2 VACUARY_INLINE bool read_four(const char* text, const Tile& tile, std::size_t r,
                                           const FourForm& form, TileNumbers& out, __m256d& largest) {
  const __m256i low = load_two(text, tile.begin + r);
  const __m256i high = load_two(text, tile.begin + r + 2);
  const __m128i lengths = _mm_loadu_si128(reinterpret_cast<const __m128i*>(tile.length + r));
  const __m256i zero = _mm256_set1_epi8('0');
  const __m256i low_digits = _mm256_sub_epi8(low, zero);
  const __m256i high_digits = _mm256_sub_epi8(high, zero);
  const __m256i off =
      _mm256_or_si256(_mm256_or_si256(unlike(low, low_digits, form), unlike(high, high_digits, form)),
                      _mm256_zextsi128_si256(_mm_xor_si128(lengths, form.length)));
  if (_mm256_testz_si256(off, off) == 0) return false;
  // The rows stand in the order 0 2 1 3 until they are stored.
  const __m256i fours =
      _mm256_packus_epi32(fours_of(low_digits, form.order), fours_of(high_digits, form.order));
  const __m256i eights = _mm256_madd_epi16(fours, _mm256_set1_epi32(0x0001'2710));
  const __m256i mantissas = _mm256_add_epi64(_mm256_mul_epu32(eights, _mm256_set1_epi64x(100'000'000)),
                                             _mm256_srli_epi64(eights, 32));
  // Below 2^52: the bits of 2^52 + mantissa.
  const __m256i two_52 = _mm256_set1_epi64x(0x4330'0000'0000'0000);
  const __m256d exact =
      _mm256_sub_pd(_mm256_castsi256_pd(_mm256_or_si256(mantissas, two_52)), _mm256_castsi256_pd(two_52));
  largest = _mm256_max_pd(largest, exact);
  const __m256d values =
      form.divides ? _mm256_div_pd(exact, form.divisor) : _mm256_mul_pd(exact, form.factor);
  _mm256_storeu_pd(out.value + r, _mm256_xor_pd(_mm256_permute4x64_pd(values, 0xD8), form.sign));
  return true;
}

}  // namespace

void numbers_avx2(const char* text, const Tile& tile, char point, TileNumbers& out) {
  Form form;
  FourForm four{};
  Reading reading;
  __m256d largest = _mm256_setzero_pd();
  std::size_t r = 0;
  while (r + 4 <= tile.rows) {
    if (four.usable && read_four(text, tile, r, four, out, largest)) {
      reading.decimals = four.decimals > reading.decimals ? four.decimals : reading.decimals;
      r += 4;
      continue;
    }
    for (const std::size_t end = r + 4; r < end; ++r) read_one(text, tile, r, point, form, out, reading);
    four = four_form(form, text + tile.begin[r - 1], tile.length[r - 1]);
  }
  for (; r < tile.rows; ++r) read_one(text, tile, r, point, form, out, reading);
  alignas(32) double of_fours[4];
  _mm256_store_pd(of_fours, largest);
  for (const double one : of_fours) {
    const auto mantissa = static_cast<std::uint64_t>(one);
    reading.largest = mantissa > reading.largest ? mantissa : reading.largest;
  }
  tell(reading, out);
}

}  // namespace vacuary::log

#endif
