// One row of the log as the account sees it: readings, and what they mean for the plant.
#pragma once

#include <cmath>
#include <cstddef>
#include <numbers>

#include "base/time.hpp"
#include "run/log_line.hpp"
#include "run/sums.hpp"

namespace vacuary::run {

inline constexpr double full_turn_rad = 2 * std::numbers::pi;

// An angle to within half a turn either way, exactly. Most are.
[[nodiscard]] inline double wrapped_rad(double angle_rad) {
  return std::abs(angle_rad) <= full_turn_rad / 2 ? angle_rad : std::remainder(angle_rad, full_turn_rad);
}

// The lesser and the greater of two numbers; of a number and no value the number. (std::fmin and std::fmax
// are calls into a library, too many for every row.)
[[nodiscard]] inline double lesser(double a, double b) { return a < b || b != b ? a : b; }
[[nodiscard]] inline double greater(double a, double b) { return a > b || b != b ? a : b; }

// What a watch keeps of a row. All values SI; no_value where there is none.
struct Moment {
  Instant time;
  LogLine line;
  bool first = false;
  double dt_s = 0;      // since the row before
  double period_s = 0;  // expected distance of rows here
  bool gap = false;     // rows are missing between the row before and this one
  bool lost = false;    // more than that may be: see log::Event::lost
  double jumped_s = 0;  // the log's clock was set forward by so much before this row; taken off here
  double stamp_s = 0;   // what the log's stamps are rounded to, as far as one can see
  double shared_s = 0;  // stamps so coarse that rows share them: this one is dated within one of that
  bool hold = false;    // on-change log: a value holds until the next one

  int step = -1;          // index into the recipe's steps; -1: none of them
  int step_before = -1;   // of the row before
  double step_age_s = 0;  // since the step's first row

  double gas_mol_s = 0;           // total of the gas lines
  double pressure_pa = no_value;  // of the vessel, true
  int gauge = -1;                 // whose reading that is
  double gauge_u = no_value;      // standard uncertainty of that reading, relative

  double power_w = no_value, voltage_v = no_value, current_a = no_value, counter_j = no_value;
  double smooth_v = no_value;  // voltage averaged over some seconds of discharge: arcs and noise taken out
  double va_w = no_value;      // voltage times current
  double open = no_value;      // shutter of the cathode, 0 to 1
  double speed_rad_s = no_value, angle_rad = no_value;

  // Film up to this row, and how fast it grows when nothing disturbs it.
  double film_m = 0;
  double quiet_rate_m_s = no_value;
  double kappa_m_j = no_value;
};

// And all that was read in it, as long as its block is there.
struct Row : Moment {
  const double* const* columns = nullptr;  // by header channel, rows of the block
  std::size_t in_block = 0;
  const double* true_pa = nullptr;  // by gauge: what it read as true pressure; no_value outside its range
  [[nodiscard]] double at(int channel) const {
    return channel < 0 ? no_value : columns[static_cast<std::size_t>(channel)][in_block];
  }
  // Readings of a channel (not -1) from this row on, one a row.
  [[nodiscard]] const double* from(int channel) const {
    return columns[static_cast<std::size_t>(channel)] + in_block;
  }
  // The row before, without its readings; before the first one of the log nothing is known. (Rows lie one
  // behind the other, and the one before those in hand is kept.)
  [[nodiscard]] const Moment& before() const { return this[-1]; }
};

// Neighbouring rows of one block, at least one: what a watch takes at a time. Of several rows nothing is
// odd: none is the first of the log, begins a step, follows a gap or a clock that was set, and the zero of
// no gauge changes among them; so all are of one step. A row that is odd comes alone. How rows are cut
// into stretches says nothing of the plant: no result may depend on it.
class Stretch {
 public:
  Stretch(const Row* first, const Row* end, bool odd) : first_(first), end_(end), odd_(odd) {}
  [[nodiscard]] const Row* begin() const { return first_; }
  [[nodiscard]] const Row* end() const { return end_; }
  [[nodiscard]] const Row& front() const { return *first_; }
  [[nodiscard]] const Row& back() const { return end_[-1]; }
  [[nodiscard]] std::size_t size() const { return static_cast<std::size_t>(end_ - first_); }
  [[nodiscard]] bool odd() const { return odd_; }
  [[nodiscard]] int step() const { return first_->step; }

 private:
  const Row *first_, *end_;
  bool odd_;
};

[[nodiscard]] inline double seconds(Instant from, Instant to) {
  return static_cast<double>(to.ns - from.ns) * 1e-9;
}

}  // namespace vacuary::run
