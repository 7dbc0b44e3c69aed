// The order and distance of rows: which are kept, and what is odd about their stamps.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include "log/recall.hpp"
#include "log/slab.hpp"

namespace vacuary::log {

// The usual distance of rows: exact where few distances differ, else rounded to three digits, so
// that memory is bounded.
class Cadence {
 public:
  void add(std::int64_t distance_ns, std::uint64_t times = 1);
  [[nodiscard]] std::int64_t median_ns() const;

 private:
  std::map<std::int64_t, std::uint64_t> counts_;
  std::int64_t last_key_ = -1;
  std::uint64_t* last_count_ = nullptr;
  std::uint64_t total_ = 0;
};

class Timeline {
 public:
  Timeline(const plan::ChannelMap& map, std::function<void(Event)> emit);

  struct Rows {
    int file = 0;
    std::uint64_t lines_before = 0;  // absolute line = this + 1 + Parsed::line
    bool starts_further_file = false;
    const Parsed* ahead = nullptr;  // the slab that follows, if any
  };
  // Decides on each row of `slab`: keep[i] says whether it stays; `breaks` are rows (before any is
  // dropped) with something missing before them. Stamps in a repeated hour are settled in place,
  // and those after a step of the log's clock dated as it would have gone on.
  void walk(const Rows& rows, Parsed& slab, std::vector<bool>& keep, std::vector<std::size_t>& breaks);
  // After the last slab: runs that were still open.
  void finish();

  [[nodiscard]] std::optional<Instant> start() const { return start_; }
  [[nodiscard]] Instant end() const { return {last_ns_}; }
  [[nodiscard]] Duration period() const;
  // By which rows are dated otherwise than they say, since the log's clock was set back.
  [[nodiscard]] std::int64_t offset_ns() const { return offset_ns_; }

 private:
  struct Run {  // rows with one oddity, still going on
    bool open = false;
    Event event;
  };
  struct At {  // a row, and what follows it
    const Parsed& slab;
    const Parsed* ahead;
    std::size_t row;
  };
  [[nodiscard]] bool goes_on(const Parsed& slab, const Parsed* ahead) const;
  void accept_all(const Parsed& slab);
  void settle_twice(const Rows& rows, Parsed& slab, std::size_t i, std::size_t& next_twice);
  // The stamp `n` rows on, dated like the present row; its mark.
  [[nodiscard]] std::optional<std::int64_t> following(const At& at, std::size_t n) const;
  [[nodiscard]] std::optional<std::uint64_t> mark(const At& at, std::size_t n) const;
  [[nodiscard]] bool lies_ahead(const At& at) const;
  [[nodiscard]] bool is_gap(const At& at, std::int64_t distance);
  [[nodiscard]] std::int64_t usual_after(const At& at) const;
  [[nodiscard]] std::int64_t usual_before() const;
  void accept(std::int64_t ns, std::uint64_t mark);
  [[nodiscard]] bool judge(const At& at, std::uint64_t line, std::int64_t& ns, bool& broken);
  void drop_backward(std::int64_t ns, std::uint64_t line);
  void close_backward();
  [[nodiscard]] bool clock_was_set_back(const At& at) const;
  [[nodiscard]] bool was_put_right(std::int64_t step_ns, std::int64_t usual) const;
  void set_back(std::int64_t& ns, std::uint64_t line);
  // Where time runs backward: whether the rows behind come as usual, later than `least_ns`, and are not those
  // of the log's start or of these times.
  [[nodiscard]] bool goes_on_anew(const At& at, std::int64_t later_ns) const;
  [[nodiscard]] bool like_first_rows(const At& at) const;
  [[nodiscard]] std::int64_t day_began_again(const At& at) const;
  [[nodiscard]] bool count_began_again(const At& at) const;
  void begin_day(std::int64_t& ns, std::int64_t day_ns, std::uint64_t line);
  void begin_count(std::int64_t& ns, std::uint64_t line);
  [[nodiscard]] bool set_forward_again(std::int64_t& ns, std::uint64_t line);
  void extend(Run& run, Oddity what, std::uint64_t line, Instant from, Instant to, const std::string& detail);
  void close(Run& run);
  void note_gap(std::uint64_t line, std::int64_t to_ns, std::int64_t distance);

  std::int64_t stated_ns_ = 0, shortest_ns_ = 0, longest_ns_ = 0;  // 0: not stated
  bool gaps_ = true;
  bool newest_first_ = false;            // rows come from below
  std::optional<std::int64_t> zero_ns_;  // where elapsed time counts from
  std::vector<std::uint64_t> first_marks_;
  std::function<void(Event)> emit_;
  int file_ = 0;

  std::optional<Instant> start_;
  std::int64_t last_ns_ = 0;
  Cadence cadence_;
  std::array<std::int64_t, 5> ring_{};
  std::size_t ring_size_ = 0, ring_at_ = 0;
  std::size_t even_ = 0;       // distances in a row that are the same
  std::int64_t usual_ns_ = 0;  // what a gap was held against
  std::int64_t worst_gap_ns_ = 0;
  std::int64_t offset_ns_ = 0;  // added to stamps since the log's clock was set back
  struct Jump {
    std::int64_t ns = 0;  // by how much more than usual time went forward
    std::uint64_t line = 0;
  };
  Jump last_jump_;  // the last gap
  struct Hole {
    std::int64_t from_ns, to_ns;
  };
  std::vector<Hole> holes_;  // the last gaps
  [[nodiscard]] bool has_been_through(std::int64_t ns) const;
  Recall recall_;

  Run backward_, gap_, repeated_, fold_;
  std::int64_t backward_first_ns_ = 0;
  bool backward_after_header_ = false, backward_same_ = false, header_since_last_ = false;
  std::size_t backward_new_ = 0;  // rows at times that the log has been through, with other values
  bool pending_break_ = false;    // before the next row that stays
};

}  // namespace vacuary::log
