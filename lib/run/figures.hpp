// Per step and channel: least, greatest, mean over time, integral, good and bad samples.
//
// The mean is over the time between neighbouring good samples (trapezoid; hold in an on-change
// log), the integral is mean times that time. Nothing is bridged: an interval with rows or cells
// missing in it counts for neither. An interval belongs to the step it began in.
//
// Stretches of one step in which nothing is odd are taken as the reader summed them up (log::Part).
#pragma once

#include <vector>

#include "run/row.hpp"
#include "run/run.hpp"

namespace vacuary::run {

class Figures {
 public:
  // One figure per channel and step; the last channel is the vessel's pressure when the log has
  // no chamber.pressure of its own.
  Figures(const plan::Plan& plan, const log::Header& header);

  // What a row says of the interval before it.
  struct Interval {
    double dt_s = 0;
    double pressure_pa = no_value;  // of the vessel, at the row
    int step = -1, step_before = -1;
    bool counts = false;  // there is a row before, and nothing is missing between
    bool odd = false;     // the reader sees it otherwise: a gap, or a clock that was set
  };
  [[nodiscard]] static Interval interval(const Row& row, bool broken);

  // A row of a log on change; its values are held.
  void add(const Row& row);
  // Rows [part.from, part.to) of a log that repeats its values. `part` may be without figures.
  void add(const log::Block& block, const log::Part& part, const std::vector<Interval>& rows);
  [[nodiscard]] std::vector<Figure> of(std::size_t step) const;

 private:
  struct One {
    double least = no_value, greatest = no_value, last = no_value;
    Sum integral, covered_s, plain;
    std::uint64_t good = 0, bad = 0;
  };
  struct Watched {
    plan::Channel channel;
    Unit unit;
    int column;          // -1: the vessel's pressure
    bool angle = false;  // wraps: only first to last make sense, no mean
  };
  void sum_up(std::size_t i, double now, const Interval& at, bool hold);
  void area(std::size_t i, double now, const Interval& at, bool hold);

  std::vector<Watched> watched_;
  std::vector<std::vector<One>> steps_;
  std::vector<double> last_;
};

}  // namespace vacuary::run
