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

class CellReader {
 public:
  CellReader(const CellRule& rule, const NumberStyle& style) : rule_(rule), style_(style) {}
  [[nodiscard]] Cell read(std::string_view text) const;

 private:
  [[nodiscard]] Cell from_number(const ParsedNumber& parsed) const;
  const CellRule& rule_;
  const NumberStyle& style_;
};

}  // namespace vacuary::log
