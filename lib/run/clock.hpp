// A logger's clock that was set forward. To the reader that is a gap, since stamps alone cannot tell
// the two apart; what counts or turns by itself can.
#pragma once

#include <utility>
#include <vector>

#include "run/row.hpp"

namespace vacuary::run {

// Whether the optic turned on by one row's way only between the two rows, although the stamps are many
// rows apart: where its speed is steady and the time no whole number of turns.
enum class Turned { one_row, not_one_row, unknown };
[[nodiscard]] Turned turned_between(const Moment& before, const Moment& row);

// Dates rows as if the clock had gone on, from where the energy counter shows that it was set: it went
// on by one row's worth at steady power, and the optic, where it can tell, does not say otherwise.
class ClockSteps {
 public:
  explicit ClockSteps(double rated_w) : rated_w_(rated_w) {}

  // The instant of the reader, dated anew.
  [[nodiscard]] Instant dated(Instant time) const;
  // Every row but the first, in order. `row` has its readings; `read`: as the reader dates it. If it comes
  // after more than a row's time and the clock was set, its time, distance, gap and jumped_s are put right.
  // In a log on change that is no gap, but a counter that goes on by a row's worth shows it too: it would
  // have been written meanwhile.
  void row(const Moment& before, Row& row, Instant read);
  // What the stamps are rounded to: the coarsest of 1 s, 0.1 s ... 1 us that all were multiples of, or a
  // forward jump that came twice within ten minutes, which no one sets a clock by.
  [[nodiscard]] double resolution_s() const;

 private:
  void look_at_digits(Instant read);
  [[nodiscard]] bool rounded(double jumped_s, Instant at);

  std::int64_t resolution_ns_ = 1'000'000'000;
  double usual_jump_s_ = 0, last_jump_s_ = 0;  // the first by which stamps are rounded; 0: none
  Instant last_jump_at_;
  [[nodiscard]] bool counted_one_row(const Moment& before, const Moment& row) const;

  double rated_w_;
  double least_j_ = no_value;  // by which the counter was seen to go on: its digit is no coarser
  std::vector<std::pair<Instant, std::int64_t>> steps_;  // from when on (as read), taken off altogether, ns
};

}  // namespace vacuary::run
