// Where the optic stands: its angle under the cathodes' line, row by row, unwrapped.
//
// From optic.angle; over rows without one from optic.speed, else from the speed the recipe asks for.
// The index pulse comes once a turn from the optic itself: where it comes off against the angle, the
// drive has slipped, and the angle is set right by it.
#pragma once

#include <cmath>
#include <cstddef>

#include "run/roles.hpp"
#include "run/row.hpp"

namespace vacuary::run {

// A stretch in which the optic's angle stood, and where it went on.
struct Standing {
  double way_rad = 0;   // what the optic would have turned meanwhile
  double back_rad = 0;  // where the angle went on, from where it stood
  double lasted_s = 0;
  std::size_t rows = 0, speed_changes = 0;  // of the speed's digits
  bool speed_logged = false;
};
// Whether the reading stood while the optic turned: then it goes on from where the turning optic would be by
// then. After whole turns that is where it stood, and the digits of the speed, which the same device reads,
// tell: they stand too, but for the rows where the reading stops and goes on.
[[nodiscard]] bool reading_was_stuck(const Standing& standing);

class Turning {
 public:
  explicit Turning(const Roles& roles) : roles_(roles) {}

  // `asked_rad_s`: the speed the recipe asks for at this row; NaN: none.
  void row(const Row& row, double asked_rad_s);

  // As optic.angle reads, unwrapped and set right by the index.
  [[nodiscard]] double angle_rad() const { return raw_rad_ - slip_rad_; }
  [[nodiscard]] double angle_before_rad() const { return before_rad_; }
  // The way of the last row, and what it should have been by the speed (no_value: not known).
  [[nodiscard]] double moved_rad() const { return moved_rad_; }
  [[nodiscard]] double expected_rad() const { return expected_rad_; }
  // The angle stands although the speed says that the optic turns: a stall, or a reading that is stuck.
  [[nodiscard]] bool stands() const {
    return angle_seen_ && std::abs(moved_rad_) < 0.3 * std::abs(expected_rad_);
  }
  // Whether the speed's digits changed with the last row.
  [[nodiscard]] bool speed_moved() const { return speed_moved_; }
  // Whole turns that went unseen while the reading was stuck.
  void make_up(double turns_rad) { raw_rad_ += turns_rad; }
  // Whether the log says where the optic stood, not only how far it turned.
  [[nodiscard]] bool angle_known() const { return angle_seen_; }
  [[nodiscard]] bool index_seen() const { return pulses_ > 1; }
  // How well the angle is known at a row.
  struct Known {
    bool seen = false;  // in the log
    double turned_rad = 0, step_rad = 0;
    // Standard, without that of the mark on its drive.
    [[nodiscard]] double uncertainty_rad() const;
  };
  [[nodiscard]] Known known() const { return {angle_seen_, turned_rad_, step_rad_}; }

 private:
  void watch_index(const Row& row);

  const Roles& roles_;
  bool any_ = false, angle_seen_ = false, speed_moved_ = false;
  double raw_rad_ = 0, slip_rad_ = 0, before_rad_ = 0;
  double whole_turns_ = 0;  // that raw_rad_ is ahead of the reading
  double moved_rad_ = 0, expected_rad_ = no_value;
  double turned_rad_ = 0;  // since the last index pulse, or since the beginning
  double last_angle_ = no_value, last_speed_ = no_value, last_index_ = no_value;
  double index_at_rad_ = no_value, step_rad_ = 0;
  int pulses_ = 0;
};

}  // namespace vacuary::run
