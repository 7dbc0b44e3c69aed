// The rows read last, by stamp: enough to know a row again that was there before.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace vacuary::log {

class Recall {
 public:
  void add(std::int64_t ns, std::uint64_t mark) {
    if (entries_.size() < most) {
      entries_.push_back({ns, mark});
      return;
    }
    entries_[oldest_] = {ns, mark};
    oldest_ = (oldest_ + 1) % most;
  }
  [[nodiscard]] bool empty() const { return entries_.empty(); }
  [[nodiscard]] bool reaches_back_to(std::int64_t ns) const { return !entries_.empty() && at(0).ns <= ns; }
  [[nodiscard]] bool has_same_row(std::int64_t ns, std::uint64_t mark) const;

 private:
  // At 10 Hz nearly two hours: more than clocks are set back for the winter. 1 MiB.
  static constexpr std::size_t most = std::size_t{1} << 16U;
  struct Entry {
    std::int64_t ns;
    std::uint64_t mark;
  };
  [[nodiscard]] const Entry& at(std::size_t i) const { return entries_[(oldest_ + i) % entries_.size()]; }
  [[nodiscard]] std::size_t first_not_before(std::int64_t ns) const;
  std::vector<Entry> entries_;  // ascending in time from oldest_ on, round the end
  std::size_t oldest_ = 0;
};

}  // namespace vacuary::log
