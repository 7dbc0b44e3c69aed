// Rows that share a stamp because stamps are coarser than rows are apart: to the minute, or elapsed time in
// hours with few decimals. Each row is dated within its stamp, as far from the next as rows are there; the
// order of rows and what the stamps say stay true.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "log/log.hpp"
#include "log/slab.hpp"

namespace vacuary::log {

class Spread {
 public:
  explicit Spread(std::function<void(Event)> emit) : emit_(std::move(emit)) {}

  struct Place {
    int file = 0;
    std::uint64_t lines_before = 0;
    std::int64_t offset_ns = 0;     // by which the stamps ahead will be dated otherwise than they stand
    const Parsed* ahead = nullptr;  // the slab that follows, if any
  };
  // Dates the rows of `slab` that are kept. Whether any is dated anew.
  bool walk(const Place& place, Parsed& slab, const std::vector<bool>& keep);
  // What stamps are multiples of, as far as one can see.
  [[nodiscard]] std::int64_t unit_ns() const { return unit_ns_; }
  // At which rows were dated last.
  [[nodiscard]] std::int64_t distance_ns() const { return last_distance_ns_; }
  // After the last slab.
  void finish();

 private:
  struct Stamp {  // the present one
    std::int64_t at_ns = 0;
    std::uint64_t mark = 0;
    std::size_t rows = 0;  // so far that differ from the one before them
    bool spread = false;
    std::int64_t from_ns = 0;
    std::int64_t distance_ns = 0;
  };
  struct Ahead;
  [[nodiscard]] bool passes(const Parsed& slab, const std::vector<bool>& keep);
  void begin(std::int64_t ns, const Ahead& ahead);
  void go_on(std::int64_t ns, std::size_t rows, std::size_t next_rows);

  std::function<void(Event)> emit_;
  bool any_ = false;
  Stamp now_;
  std::size_t rows_before_ = 0;                      // of the stamp before
  std::size_t steady_stamps_ = 0, steady_rows_ = 0;  // in a row of about as many rows, and the rows of those
  std::int64_t last_distance_ns_ = 0;
  std::int64_t last_ns_ = std::numeric_limits<std::int64_t>::min();  // as the row before was dated
  std::int64_t unit_ns_ = 0;   // of which all distances of stamps so far are multiples
  std::optional<Event> told_;  // still going on
};

}  // namespace vacuary::log
