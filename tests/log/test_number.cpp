// Numbers: the nearest double always, against the standard library.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <bit>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "log/kernels.hpp"
#include "log/number.hpp"

using namespace vacuary::log;

namespace {

// strtod reads the classic locale here, and rounds correctly.
bool same_as_library(const std::string& text) {
  const ParsedNumber read = parse_number(text, {});
  const double expected = std::strtod(text.c_str(), nullptr);
  if (std::isinf(expected)) return read.is == NumberIs::too_large;
  return read.is == NumberIs::number &&
         std::bit_cast<std::uint64_t>(read.value) == std::bit_cast<std::uint64_t>(expected);
}

std::string shortest(double value) {
  char buffer[64];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
  return {buffer, end};
}

}  // namespace

TEST_CASE("hard cases of decimal to double") {
  const char* cases[] = {
      "0", "-0", "0.0", "-0.0e10", "1", "+1", "1.", ".5", "-.5e1", "1e0", "1E+5", "1e-5", "00001.5", "0.1",
      "0.3",
      // halfway between two doubles, and one digit to either side
      "9007199254740993", "9007199254740992.9999999999", "9007199254740993.0000000001", "9007199254740991.5",
      "9007199254740990.5", "4503599627370497.5", "4503599627370496.5",
      "1.00000000000000011102230246251565404236316680908203125",
      "1.00000000000000011102230246251565404236316680908203124",
      "1.00000000000000011102230246251565404236316680908203126",
      // the ends of the range (IEEE 754 binary64)
      "1.7976931348623157e308", "1.7976931348623158e308", "1.7976931348623159e308", "1e308", "1e309",
      "-1e999", "2.2250738585072014e-308", "2.2250738585072011e-308", "4.9406564584124654e-324",
      "2.4703282292062328e-324", "2.4703282292062327e-324", "1e-323", "1e-324", "1e-400", "-1e-400",
      "1e-99999999999999999999", "1e99999999999999999999", "0e99999999999999999999",
      // many digits
      "123456789012345678901234567890", "0.000000000000000000000000000000123456789",
      "3.14159265358979323846264338327950288419716939937510582097494459",
      "179769313486231580793728971405303415079934132710037826936173778980444968292764750946649017977587207096"
      "330286"
      "416692887910946555547851940402630657488671505820681908902000708383676273854845817711531764475730270069"
      "855571"
      "366959622842914819860834936475292719074168444365510704342711559699508093042880",
      "1e22", "1e23", "1e-22", "1e-23", "9007199254740992e22", "9007199254740992e-22", "9007199254740993e-22",
      "20.2835273742676", "19.684383392334", "0.000953", "1000", "8.9884656743115795e307"};
  for (const char* text : cases) CHECK_MESSAGE(same_as_library(text), text);
}

TEST_CASE("random decimals of every length and size") {
  std::mt19937_64 random(20310304);
  int wrong = 0;
  for (int i = 0; i < 300000; ++i) {
    std::string text = random() % 2 == 0 ? "-" : "";
    const auto digits = [&](std::uint64_t n) {
      for (std::uint64_t k = 0; k < n; ++k) text += static_cast<char>('0' + random() % 10);
    };
    digits(1 + random() % 20);
    if (random() % 3 != 0) {
      text += '.';
      digits(random() % 22);
    }
    if (random() % 2 == 0) text += fmt::format("e{}", static_cast<int>(random() % 680) - 340);
    if (!same_as_library(text)) {
      ++wrong;
      MESSAGE(text);
    }
  }
  CHECK(wrong == 0);
}

TEST_CASE("every double comes back from its shortest text") {
  std::mt19937_64 random(7);
  int wrong = 0;
  for (int i = 0; i < 300000; ++i) {
    const double value = std::bit_cast<double>(random());
    if (!std::isfinite(value)) continue;
    const ParsedNumber read = parse_number(shortest(value), {});
    if (std::bit_cast<std::uint64_t>(read.value) != std::bit_cast<std::uint64_t>(value)) ++wrong;
  }
  CHECK(wrong == 0);
}

TEST_CASE("what is no number says what it is") {
  const auto is = [](const char* text) { return parse_number(text, {}).is; };
  CHECK(is("") == NumberIs::empty);
  CHECK(is("  \t ") == NumberIs::empty);
  CHECK(is("NaN") == NumberIs::nan);
  CHECK(is("-nan") == NumberIs::nan);
  CHECK(is("Inf") == NumberIs::too_large);
  CHECK(is("-infinity") == NumberIs::too_large);
  for (const char* text : {"-", "+", ".", "e5", "1e", "1e+", "1.2.3", "1,5", "0x10", "1 2", "12a", "--1",
                           "1e5.5", "1_000", "\xEF\xBC\x91", "1-", "1+1"}) {
    CHECK_MESSAGE(is(text) == NumberIs::unreadable, text);
  }
  CHECK(parse_number(" 1.5\t", {}).value == 1.5);
}

TEST_CASE("decimal comma and thousands marks") {
  const NumberStyle comma{',', '.'};
  CHECK(parse_number("1.234.567,25", comma).value == 1234567.25);
  CHECK(parse_number("-12,5e-3", comma).value == -12.5e-3);
  CHECK(parse_number("1234,5", comma).value == 1234.5);
  for (const char* text : {"1.23,5", "1.2345,0", "12.34.567", ".123", "1..234", "1.234.", "1234.567"}) {
    CHECK_MESSAGE(parse_number(text, comma).is == NumberIs::unreadable, text);
  }
  for (const char* text : {"0,308", "00,308", "-0,308", "000,308", "0,308.5", "0,000,308", "0,308e3"})
    CHECK_MESSAGE(parse_number(text, {'.', ','}).is == NumberIs::unreadable, text);
  CHECK(parse_number("0.308", {'.', ','}).value == 0.308);
  CHECK(parse_number("10,308", {'.', ','}).value == 10308);
  CHECK(parse_number("12 345.5", {'.', ' '}).value == 12345.5);
  CHECK(parse_number("1'000'000", {'.', '\''}).value == 1e6);
  CHECK(parse_number("12\xC2\xA0"
                     "345\xE2\x80\xAF"
                     "678.5",
                     {'.', ' '})
            .value == 12345678.5);
  CHECK(parse_number("1\xE2\x80\x99"
                     "000",
                     {'.', '\''})
            .value == 1e3);
  CHECK(parse_number("1\xC2\xA0"
                     "000",
                     {'.', '\0'})
            .is == NumberIs::unreadable);
  CHECK(parse_number("1\xC2\xA0"
                     "00",
                     {'.', ' '})
            .is == NumberIs::unreadable);
  CHECK(parse_number("1\xC2", {'.', ' '}).is == NumberIs::unreadable);
  // More digits than a double holds go the library's way.
  CHECK(parse_number("1\xC2\xA0"
                     "000\xC2\xA0"
                     "000.00000000000000000000001",
                     {'.', ' '})
            .value == 1e6);
}

TEST_CASE("a minus sign of typography, and exponents as Fortran writes them") {
  CHECK(parse_number("\xE2\x88\x92"
                     "12.5e-3",
                     {})
            .value == -12.5e-3);
  CHECK(parse_number("\xE2\x88\x92"
                     "1.00000000000000000000000001",
                     {})
            .value == -1);
  CHECK(parse_number("1.0D-05", {}).value == 1e-5);
  CHECK(parse_number("-1.25d+02", {}).value == -125);
  CHECK(parse_number("1.7976931348623157D308", {}).value == 1.7976931348623157e308);
  for (const char* text : {"\xE2\x88\x92", "\xE2\x88",
                           "1\xE2\x88\x92"
                           "2",
                           "1D", "D5", "1D+"})
    CHECK_MESSAGE(parse_number(text, {}).is == NumberIs::unreadable, text);
}

TEST_CASE("how many digits were written") {
  CHECK(parse_number("0.0450", {}).decimals == 4);
  CHECK(parse_number("0.0450", {}).significant == 3);
  CHECK(parse_number("1.25e-4", {}).decimals == 2);
  CHECK(parse_number("250", {}).decimals == 0);
}

TEST_CASE("scaled integers are exact and round half away from zero") {
  const auto scaled = [](const char* text, std::int64_t by) {
    std::int64_t out = -1;
    return parse_scaled_integer(text, {}, by, out) ? out : -999;
  };
  CHECK(scaled("1930000000.123456789", 1'000'000'000) == 1930000000123456789);
  CHECK(scaled("1.9300000001e9", 1'000'000'000) == 1930000000100000000);
  CHECK(scaled("0.0000000005", 1'000'000'000) == 1);
  CHECK(scaled("-0.0000000015", 1'000'000'000) == -2);
  CHECK(scaled("0.00000000049999999", 1'000'000'000) == 0);
  CHECK(scaled("45141.552395833333", 86'400'000) == 3900230127000);
  CHECK(scaled("1e30", 1) == -999);
  CHECK(scaled("9223372036854775808", 1) == -999);
  CHECK(scaled("x", 1) == -999);
  CHECK(scaled("1e-400", 1'000'000'000) == 0);
}

TEST_CASE("10^x without libm is 10^x") {
  for (int n = -323; n <= 308; ++n) {
    CHECK(power_of_ten(n) ==
          doctest::Approx(std::strtod(fmt::format("1e{}", n).c_str(), nullptr)).epsilon(1e-14));
  }
  for (double x = -12; x < 12; x += 0.0371)
    CHECK(power_of_ten(x) == doctest::Approx(std::pow(10, x)).epsilon(2e-15));
  CHECK(power_of_ten(0) == 1);
  CHECK(std::isinf(power_of_ten(500)));
  CHECK(power_of_ten(-500) == 0);
  CHECK(std::isnan(power_of_ten(std::nan(""))));
}

// The kernels keep the form of the cell above and read four alike at once: cells that differ from it in
// one byte each way, in runs, with any digits, and now and then with a byte that does not belong there.
TEST_CASE("a column of numbers in changing forms reads alike with every instruction set") {
  const char* const forms[] = {"1.25",
                               "1.26",
                               "-1.25",
                               "12.5",
                               "125",
                               "125.",
                               ".125",
                               "1.25e3",
                               "1.25E3",
                               "1.25e-3",
                               "1.25e+3",
                               "1.2e-30",
                               "1.2f-30",
                               "1.2e13",
                               "1.25e300",
                               "1,25",
                               "1..5",
                               "1.2.5",
                               "e5",
                               "-",
                               "",
                               "+1",
                               " 1.25",
                               "\"1.25\"",
                               "1.25e-",
                               "1e5.5",
                               "nan",
                               "9007199254740993",
                               "123456789012345.6",
                               "0.1"};
  std::mt19937_64 random(20310304);
  std::uint64_t read = 0;
  for (int round = 0; round < 2000; ++round) {
    std::string text;
    Tile tile;
    tile.rows = 1 + random() % tile_rows;
    std::size_t form = random() % std::size(forms);
    for (std::size_t r = 0; r < tile.rows; ++r) {
      if (random() % (round % 2 == 0 ? 3 : 12) == 0) form = random() % std::size(forms);
      std::string cell = forms[form];
      const std::size_t mantissa = std::min(cell.find_first_of("eE"), cell.size());
      for (std::size_t i = 0; i < mantissa; ++i) {
        if (cell[i] >= '0' && cell[i] <= '9') cell[i] = static_cast<char>('0' + random() % 10);
      }
      if (!cell.empty() && random() % 40 == 0) cell[random() % cell.size()] = "-+.eE:/ \"7"[random() % 10];
      tile.begin[r] = static_cast<std::uint32_t>(text.size());
      tile.length[r] = static_cast<std::uint32_t>(cell.size());
      text += cell + ",";
    }
    const std::string padded = text + std::string(128, '7');
    TileNumbers expected;
    kernels(InstructionSet::portable).numbers(padded.data(), tile, '.', expected);
    for (const InstructionSet set : {InstructionSet::avx2, InstructionSet::avx512}) {
      TileNumbers numbers;
      kernels(set).numbers(padded.data(), tile, '.', numbers);
      for (std::size_t r = 0; r < tile.rows; ++r) {
        const std::string cell = padded.substr(tile.begin[r], tile.length[r]);
        CAPTURE(cell);
        const bool slow = (numbers.not_read >> r & 1U) != 0;
        // A sign makes one byte more; then one of the two may leave the cell to the slow way.
        if (cell.size() <= 16) CHECK(slow == ((expected.not_read >> r & 1U) != 0));
        if (slow) continue;
        ++read;
        CHECK(std::bit_cast<std::uint64_t>(numbers.value[r]) ==
              std::bit_cast<std::uint64_t>(std::strtod(cell.c_str(), nullptr)));
      }
      if (numbers.not_read == expected.not_read) {
        CHECK(numbers.largest_mantissa == expected.largest_mantissa);
        CHECK(numbers.most_decimals == expected.most_decimals);
      }
    }
  }
  CHECK(read > 10000);
}

TEST_CASE("equal neighbours are marked alike with every instruction set") {
  std::mt19937_64 random(7);
  for (std::size_t n = 0; n < 200; ++n) {
    std::vector<double> values(n);
    for (double& v : values) v = random() % 5 == 0 ? std::nan("") : static_cast<double>(random() % 2);
    for (const InstructionSet set :
         {InstructionSet::portable, InstructionSet::avx2, InstructionSet::avx512}) {
      std::vector<std::uint64_t> same((n + 63) / 64, ~std::uint64_t{0});
      kernels(set).same(values.data(), n, same.data());
      for (std::size_t i = 0; i < n; ++i)
        CHECK((same[i / 64] >> (i % 64) & 1U) == (i > 0 && values[i] == values[i - 1] ? 1U : 0U));
    }
  }
}
