// Lines among the rows that tell columns or units again, as where exports were put one behind the other or
// the logger was started anew. What follows other columns or units must not be read as of the first ones.
//
// A line is judged by itself: where a slab ends between a header and its units, both are known all the same.
#pragma once

#include <string>
#include <string_view>

#include "log/layout.hpp"

namespace vacuary::log {

struct HeaderAgain {
  enum class Is { none, same, other };
  Is is = Is::none;
  std::string detail;  // as an event says it
};

// `record` has no stamp, or the mark of comments before it.
[[nodiscard]] HeaderAgain header_again(std::string_view record, const Layout& layout);

}  // namespace vacuary::log
