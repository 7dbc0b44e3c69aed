// The common form of statements, ledger entries and heads: '#' lines "key: value", then lines that
// `sha256sum -c` checks. Private to the room.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.hpp"
#include "record/statement.hpp"

namespace vacuary::record {

using Fields = std::vector<std::pair<std::string, std::string>>;

struct Sums {
  Fields fields;
  std::vector<Checksum> sums;
};

[[nodiscard]] std::string sums_text(const std::string& format, const Fields& fields,
                                    const std::vector<Checksum>& sums);

// Refuses another format or version, anything after the checksums, unsafe or doubled paths, control
// characters, and texts above 4 MB.
[[nodiscard]] Result<Sums> parse_sums(const std::string& file, std::string_view bytes,
                                      const std::string& format);

}  // namespace vacuary::record
