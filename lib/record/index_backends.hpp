// The two kinds of index. Private to the room.
#pragma once

#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <string>

#include "record/index.hpp"

namespace vacuary::record {

[[nodiscard]] Result<std::unique_ptr<Index>> open_sqlite(const std::string& file);
// Says that it cannot when built without libpq.
[[nodiscard]] Result<std::unique_ptr<Index>> open_postgresql(const std::string& url,
                                                             const std::string& archive);

// When the figure was so; `undated` stands for a time that nobody knows.
[[nodiscard]] std::optional<Instant> figure_time(const Figure& figure, const IndexedRun& run);
inline constexpr std::int64_t undated = std::numeric_limits<std::int64_t>::min();

// The words of a query, split at blanks and stripped of everything that either data base could take for
// an operator.
[[nodiscard]] std::vector<std::string> search_words(const std::string& text);

}  // namespace vacuary::record
