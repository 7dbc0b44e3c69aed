// Inside `quantity` only: the table of simple symbols, the table of kinds, and the exponents that
// both speak in.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "quantity/text.hpp"

namespace vacuary::detail {

// Exponents of what a unit is made of. Besides the SI base quantities: angle (keeps rpm from Hz),
// standard gas (keeps sccm from L/min), ratio and count (keeps both from bare numbers). `pressure`
// is no dimension but how often a unit of pressure was named: it keeps "Pa m3/s" (a gas flow) from
// "W", and "Pa m" from "J/m2", whose SI dimensions are the same.
struct Dimension {
  int length = 0, mass = 0, time = 0, current = 0, temperature = 0, amount = 0;
  int angle = 0, standard_gas = 0, ratio = 0, count = 0;
  int pressure = 0;
  friend bool operator==(const Dimension&, const Dimension&) = default;
};
[[nodiscard]] Dimension product(const Dimension& a, const Dimension& b, int power_of_b);

// A simple symbol: its factor to SI is numerator / denominator, whole numbers where the unit's
// definition allows, so that composing units rounds once and not at every step.
struct Symbol {
  std::string text;
  std::string meaning;
  Kind kind;
  Dimension dimension;
  double numerator = 1;
  double denominator = 1;
  double offset = 0;  // added before the factor; only degC has one
};
[[nodiscard]] const std::vector<Symbol>& symbols();
[[nodiscard]] const Symbol* find_symbol(std::string_view text);

// The symbol most likely meant by `word`, or empty. Symbols that alone make a `wanted` go first.
[[nodiscard]] std::string suggestion(std::string_view word, Kind wanted);
// What to do about a unit that is none here and has no symbol to stand for it; empty for any other text.
[[nodiscard]] std::string advice(std::string_view word, Kind wanted);
// What to write for a flow of "normal" gas ("ln/min", "Nl/min"); empty for any other text.
[[nodiscard]] std::string normal_flow_remedy(std::string_view unit);

struct KindRow {
  Kind kind;
  const char* name;
  const char* example;
  const char* fitting;   // units of the trade that fit, for error texts
  const char* usual;     // what it is printed in when nobody chose
  const char* coherent;  // the SI unit of value_si, factor 1
};
[[nodiscard]] const KindRow& row(Kind kind);

// What `unit_dimension` is when read as `kind`: the basis (always amount for other kinds than flow
// and flux), or nothing when it is not of that kind.
[[nodiscard]] std::optional<FlowBasis> basis_as(Kind kind, const Dimension& unit_dimension);

inline constexpr std::size_t kind_count = static_cast<std::size_t>(Kind::count) + 1;
[[nodiscard]] inline Kind kind_at(std::size_t index) { return static_cast<Kind>(index); }

// `text` in quotes for a message, shortened when it is long.
[[nodiscard]] std::string quoted(std::string_view text);

// Number of bytes of the blank at the start of `text`: blank, tab, or one of the no-break and thin
// blanks that word processors put before a unit; 0 when there is none.
[[nodiscard]] std::size_t blank_at(std::string_view text);

}  // namespace vacuary::detail
