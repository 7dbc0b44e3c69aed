// The reader once more, slow and obvious: whole text in memory, std::string cells, strtod. What
// the fast one gives is held against it.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "log/log.hpp"

namespace vacuary::log::test {

struct Reference {
  std::vector<std::int64_t> time_ns;
  std::vector<std::uint64_t> line;
  std::map<std::string, std::vector<double>> values;
  std::map<std::string, std::vector<std::string>> texts;
  std::map<Oddity, std::uint64_t> count;  // of the kinds that concern single rows and cells
};

// For logs with RFC 3339 stamps in the first column and headers "name [Pa]" or text channels.
[[nodiscard]] Reference read_slowly(const std::string& text, char delimiter);

}  // namespace vacuary::log::test
