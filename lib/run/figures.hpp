// Per step and channel: least, greatest, mean over time, integral, good and bad samples.
//
// The mean is over the time between neighbouring good samples (trapezoid; hold in an on-change
// log), the integral is mean times that time. Nothing is bridged: an interval with rows or cells
// missing in it counts for neither. An interval belongs to the step it began in.
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

  void add(const Row& row);
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
  [[nodiscard]] double reading(const Watched& watched, const Row& row) const;

  std::vector<Watched> watched_;
  std::vector<std::vector<One>> steps_;
  std::vector<double> last_;
};

}  // namespace vacuary::run
