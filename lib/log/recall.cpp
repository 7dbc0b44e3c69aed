#include "log/recall.hpp"

namespace vacuary::log {

std::size_t Recall::first_not_before(std::int64_t ns) const {
  std::size_t low = 0;
  std::size_t high = entries_.size();
  while (low < high) {
    const std::size_t middle = low + (high - low) / 2;
    if (at(middle).ns < ns) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low;
}

bool Recall::has_same_row(std::int64_t ns, std::uint64_t mark) const {
  for (std::size_t i = first_not_before(ns); i < entries_.size() && at(i).ns == ns; ++i) {
    if (at(i).mark == mark) return true;
  }
  return false;
}

}  // namespace vacuary::log
