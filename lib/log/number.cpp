#include "log/number.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <string>

#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::array<double, 23> exact_powers = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                 1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
constexpr std::uint64_t largest_exact = std::uint64_t{1} << 53U;

bool is_digit(char c) { return c >= '0' && c <= '9'; }

constexpr std::string_view minus_sign = "\xE2\x88\x92";  // U+2212

// The bytes of a mark between thousands that `text` begins with; 0: it does not.
std::size_t thousands_mark(std::string_view text, char mark) {
  if (mark == '\0' || text.empty()) return 0;
  if (text.front() == mark) return 1;
  if (mark == ' ') {
    if (text.starts_with("\xC2\xA0")) return 2;                                          // U+00A0
    if (text.starts_with("\xE2\x80\x89") || text.starts_with("\xE2\x80\xAF")) return 3;  // U+2009, U+202F
  }
  return mark == '\'' && text.starts_with("\xE2\x80\x99") ? 3 : 0;  // U+2019
}

bool is_exponent_mark(char c) { return c == 'e' || c == 'E' || c == 'd' || c == 'D'; }

// A number taken apart: value = digits * 10^exponent; `digits` holds the first 19 significant
// ones, `cut` says that there were more.
struct Decimal {
  bool negative = false;
  std::uint64_t digits = 0;
  int significant = 0;
  bool cut = false;
  std::int64_t exponent = 0;  // of the last digit kept in `digits`
  std::int64_t decimals = 0;  // digits written after the point
};

// The digits before and after the point; false when there is none at all.
class Scanner {
 public:
  Scanner(std::string_view text, const NumberStyle& style) : text_(text), style_(style) {}

  bool scan(Decimal& d) {
    take_sign(d);
    const bool whole = take_whole(d);
    if (grouping_broken_) return false;
    bool fraction = false;
    if (at_ < text_.size() && text_[at_] == style_.point) {
      ++at_;
      fraction = take_fraction(d);
    }
    if (!whole && !fraction) return false;
    d.decimals = decimals_;
    return take_exponent(d) && at_ == text_.size();
  }

 private:
  void take_sign(Decimal& d) {
    if (text_.starts_with(minus_sign)) {
      d.negative = true;
      at_ = minus_sign.size();
    } else if (!text_.empty() && (text_[0] == '-' || text_[0] == '+')) {
      d.negative = text_[0] == '-';
      at_ = 1;
    }
  }
  void add(Decimal& d, char c, bool after_point) {
    if (after_point) ++decimals_;
    if (d.significant < 19) {
      d.digits = d.digits * 10 + static_cast<std::uint64_t>(c - '0');
      if (d.digits != 0) ++d.significant;
      if (after_point) --d.exponent;
    } else {
      if (c != '0') d.cut = true;
      if (!after_point) ++d.exponent;
    }
  }

  bool take_whole(Decimal& d) {
    const std::size_t from = at_;
    std::size_t group = at_;  // where the present group of digits started
    bool grouped = false;
    while (at_ < text_.size()) {
      if (is_digit(text_[at_])) {
        add(d, text_[at_++], false);
        continue;
      }
      const std::size_t mark = thousands_mark(text_.substr(at_), style_.thousands);
      if (mark == 0 || at_ == group) break;
      const std::size_t length = at_ - group;
      // Nothing has thousands that begin with 0: "0,308" is written with another mark than was said.
      if (grouped ? length != 3 : length > 3 || text_[group] == '0') grouping_broken_ = true;
      grouped = true;
      group = at_ += mark;
    }
    if (grouped && at_ - group != 3) grouping_broken_ = true;
    return at_ > from;
  }

  bool take_fraction(Decimal& d) {
    const std::size_t from = at_;
    while (at_ < text_.size() && is_digit(text_[at_])) add(d, text_[at_++], true);
    return at_ > from;
  }

  bool take_exponent(Decimal& d) {
    if (at_ == text_.size() || !is_exponent_mark(text_[at_])) return true;
    ++at_;
    bool negative = false;
    if (at_ < text_.size() && (text_[at_] == '-' || text_[at_] == '+')) negative = text_[at_++] == '-';
    const std::size_t from = at_;
    std::int64_t value = 0;
    while (at_ < text_.size() && is_digit(text_[at_])) {
      if (value < 1'000'000) value = value * 10 + (text_[at_] - '0');
      ++at_;
    }
    if (at_ == from) return false;
    d.exponent += negative ? -value : value;
    return true;
  }

  std::string_view text_;
  const NumberStyle& style_;
  std::size_t at_ = 0;
  std::int64_t decimals_ = 0;
  bool grouping_broken_ = false;
};

// Digits beyond the nineteenth matter only between two neighbouring results of the first nineteen
// taken as they are and one higher; std::from_chars sees all of them.
double by_library(std::string_view text, const NumberStyle& style, bool below_one, bool& too_large) {
  std::string plain;
  if (text.starts_with(minus_sign)) text.remove_prefix(minus_sign.size());
  while (!text.empty()) {
    const std::size_t mark = thousands_mark(text, style.thousands);
    const char c = text.front();
    const bool sign = plain.empty() && (c == '+' || c == '-');
    if (mark == 0 && !sign) plain.push_back(c == style.point ? '.' : is_exponent_mark(c) ? 'e' : c);
    text.remove_prefix(std::max<std::size_t>(1, mark));
  }
  double value = 0;
  const auto [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), value);
  static_cast<void>(end);
  if (error == std::errc::result_out_of_range && below_one) return 0;
  too_large = error == std::errc::result_out_of_range || std::isinf(value);
  return value;
}

bool equals_ignoring_case(std::string_view a, std::string_view lower) {
  if (a.size() != lower.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const char c = a[i] >= 'A' && a[i] <= 'Z' ? static_cast<char>(a[i] - 'A' + 'a') : a[i];
    if (c != lower[i]) return false;
  }
  return true;
}

NumberIs word(std::string_view text) {
  if (!text.empty() && (text.front() == '-' || text.front() == '+')) text.remove_prefix(1);
  if (equals_ignoring_case(text, "nan")) return NumberIs::nan;
  if (equals_ignoring_case(text, "inf") || equals_ignoring_case(text, "infinity")) return NumberIs::too_large;
  return NumberIs::unreadable;
}

double convert(const Decimal& d, std::string_view text, const NumberStyle& style, bool& too_large) {
  too_large = false;
  double value = 0;
  if (d.digits == 0) {
    value = 0;
  } else if (!d.cut && d.digits <= largest_exact && d.exponent >= -22 && d.exponent <= 22) {
    const auto mantissa = static_cast<double>(d.digits);
    value = d.exponent < 0 ? mantissa / exact_powers[static_cast<std::size_t>(-d.exponent)]
                           : mantissa * exact_powers[static_cast<std::size_t>(d.exponent)];
  } else if (d.exponent + d.significant < -330) {
    value = 0;  // below half of the smallest double
  } else {
    value = by_library(text, style, d.exponent + d.significant < 0, too_large);
  }
  return d.negative ? -value : value;
}

}  // namespace

ParsedNumber parse_number(std::string_view text, const NumberStyle& style) {
  ParsedNumber out;
  text = trim(text);
  if (text.empty()) {
    out.is = NumberIs::empty;
    return out;
  }
  Decimal d;
  if (!Scanner(text, style).scan(d)) {
    out.is = word(text);
    return out;
  }
  bool too_large = false;
  out.value = convert(d, text, style, too_large);
  out.is = too_large ? NumberIs::too_large : NumberIs::number;
  out.decimals = static_cast<std::uint8_t>(std::min<std::int64_t>(d.decimals, 255));
  out.significant = static_cast<std::uint8_t>(d.significant);
  return out;
}

bool parse_scaled_integer(std::string_view text, const NumberStyle& style, std::int64_t multiplier,
                          std::int64_t& out) {
  Decimal d;
  text = trim(text);
  if (text.empty() || !Scanner(text, style).scan(d)) return false;
  __extension__ using Wide = __int128;
  Wide value = static_cast<Wide>(d.digits) * multiplier;
  constexpr Wide largest = std::numeric_limits<std::int64_t>::max();
  for (std::int64_t e = d.exponent; e > 0 && value != 0; --e) {
    value *= 10;
    if (value > largest) return false;
  }
  if (d.exponent < 0) {
    Wide divisor = 1;
    for (std::int64_t e = d.exponent; e < 0; ++e) {
      if (divisor > value * 2) break;
      divisor *= 10;
    }
    value = (value * 2 + divisor) / (divisor * 2);
  }
  if (value > largest) return false;
  out = static_cast<std::int64_t>(d.negative ? -value : value);
  return true;
}

double power_of_ten(double x) {
  // 10^x = 2^n * 10^r with n = round(x log2 10), r = x - n log10 2 in two pieces (Cody and Waite),
  // |r| <= 0.151; then e^(r ln 10) by its series.
  if (!(x > -400)) return x != x ? x : 0;
  if (x > 400) return std::numeric_limits<double>::infinity();
  constexpr double log2_10 = 3.321928094887362347870319429489390;
  constexpr double log10_2_high = 0x1.34413509f7800p-2;  // 42 bits: n * high is exact
  constexpr double log10_2_low = 0x1.fef311f12b358p-46;
  constexpr double ln_10 = 2.302585092994045684017991454684364;
  const double scaled = x * log2_10;
  const auto n = static_cast<std::int64_t>(scaled < 0 ? scaled - 0.5 : scaled + 0.5);
  const auto n_real = static_cast<double>(n);
  const double r = ((x - n_real * log10_2_high) - n_real * log10_2_low) * ln_10;
  double term = 1;
  double sum = 0;
  for (int k = 16; k >= 1; --k) sum = (sum + 1) * r / k;
  term += sum;
  // In two factors, so that subnormal results are reached.
  const std::int64_t half = n / 2;
  const auto two_to = [](std::int64_t e) {
    double p = 1;
    const double base = e < 0 ? 0.5 : 2;
    for (std::int64_t i = e < 0 ? -e : e; i > 0; --i) p *= base;
    return p;
  };
  return term * two_to(half) * two_to(n - half);
}

}  // namespace vacuary::log
