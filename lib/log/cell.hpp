// One cell of a numeric channel to its SI value, or what is odd about it.
#pragma once

#include <string>
#include <string_view>

#include "log/layout.hpp"

namespace vacuary::log {

struct Cell {
  double value = 0;  // NaN when odd
  Oddity what = Oddity::missing_cell;
  bool odd = false;
  std::uint8_t decimals = 0, significant = 0;
};

// SI per unit of the log: flows become amounts at the chamber's reference.
[[nodiscard]] double factor_of(const Unit& unit, const GasReference& gas);
[[nodiscard]] bool same_unit(const Unit& a, const Unit& b);

// The unit that the cells of a channel named last, as it is looked up once and not for every cell.
struct NamedUnit {
  std::string text;
  std::optional<Unit> unit;  // none: `text` is no unit of the channel's kind
  Oddity if_none = Oddity::unreadable_cell;
};

class CellReader {
 public:
  CellReader(const CellRule& rule, const Layout& layout, NamedUnit& last)
      : rule_(rule), layout_(layout), last_(last) {}
  // `unit`: what the log says of this cell's; empty: the channel's, or the cell says it ("5 mbar").
  [[nodiscard]] Cell read(std::string_view text, std::string_view unit = {}) const;

 private:
  [[nodiscard]] Cell from_number(const ParsedNumber& parsed) const;
  [[nodiscard]] Cell judged(const ParsedNumber& parsed, std::optional<double> overrange, double value) const;
  [[nodiscard]] Cell in_unit(const ParsedNumber& parsed, std::string_view unit) const;
  const CellRule& rule_;
  const Layout& layout_;
  NamedUnit& last_;
};

// "5.1e-3 mbar", "12%": where the number ends; 0: it does not begin with one.
[[nodiscard]] std::size_t end_of_number(std::string_view text, const NumberStyle& style);

}  // namespace vacuary::log
