// What only a look at neighbouring values shows: a device that stopped updating, and a channel
// whose resolution changed.
//
// Stuck. Of a channel that changes in a share 1 - p of its samples, n equal ones in a row are
// expected once in p^-n samples; a run that long by chance once in 1e9 samples or rarer is
// reported. That holds for a channel that shows its noise, over more than one step of its last
// digit and up as well as down: a slow drift through a coarse display stands still for long, and
// is not reported. Nor is a value of zero (something is off), one reached by a step beyond the
// channel's usual ones (something was switched), or a channel that stands still by nature (a
// counter, a shutter, the angle of an optic at rest).
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "log/slab.hpp"

namespace vacuary::log {

// Rows of one slab for the watches: values of one channel, stamps and absolute lines.
struct WatchedRows {
  const std::vector<double>& values;
  const std::vector<Instant>& time;
  const std::vector<std::uint64_t>& line;
  int file = 0;
  int channel = 0;
};

class StuckWatch {
 public:
  explicit StuckWatch(plan::What what);
  void look(const WatchedRows& rows, const std::function<void(Event)>& emit);
  void finish(const std::function<void(Event)>& emit);

 private:
  void end_run(const std::function<void(Event)>& emit);
  void start_run(double value, Instant at, std::uint64_t line);
  [[nodiscard]] bool is_stuck() const;
  [[nodiscard]] bool shows_noise() const;
  void learn();

  bool watched_ = true;
  bool any_ = false;
  double value_ = 0, step_ = 0;  // of the run, and how it was entered
  std::uint64_t length_ = 0;
  Event event_;  // of the run
  double changed_ = 0, unchanged_ = 0, usual_step_ = 0;
  bool up_ = false;                           // the last change
  double reversals_ = 0;                      // changes that went the other way than the one before
  double least_step_ = 0, least_before_ = 0;  // of the last changes, in two lots
  int steps_in_lot_ = 0;
};

class ResolutionWatch {
 public:
  // `digits`: of the slab's pieces of digits_rows rows, in the same rows.
  void look(const WatchedRows& rows, const std::vector<Parsed::Digits>& digits,
            const std::function<void(Event)>& emit);

 private:
  Parsed::Digits usual_, candidate_;
  int seen_ = 0, differing_ = 0;  // pieces in a row
  Event pending_;
};

}  // namespace vacuary::log
