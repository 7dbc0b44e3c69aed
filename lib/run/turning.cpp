#include "run/turning.hpp"

#include <cmath>

namespace vacuary::run {
namespace {

// What a drive without an index may have crept, a turn; an assumption, and said so with the angle.
constexpr double creep_rad_turn = 0.2 * full_turn_rad / 360;

constexpr double near_whole_turns_rad = 15 * full_turn_rad / 360;  // a per cent of speed over some turns
constexpr double speed_tells_s = 20;                               // a live speed changes its digits sooner

}  // namespace

bool reading_was_stuck(const Standing& s) {
  const double off_whole_rad = std::abs(wrapped_rad(s.way_rad));
  if (std::abs(s.way_rad) > 0.5 * full_turn_rad && off_whole_rad < near_whole_turns_rad)
    return s.speed_logged && 10 * s.speed_changes < s.rows && s.lasted_s > speed_tells_s;
  return std::abs(wrapped_rad(s.back_rad - s.way_rad)) < std::abs(wrapped_rad(s.back_rad));
}

void Turning::row(const Row& row, double asked_rad_s) {
  before_rad_ = angle_rad();
  double by_speed = any_ ? 0.5 * (row.speed_rad_s + last_speed_) * row.dt_s : 0;
  if (std::isnan(by_speed)) by_speed = asked_rad_s * row.dt_s;
  double by = wrapped_rad(row.angle_rad - last_angle_);
  if (!std::isnan(by) && !std::isnan(by_speed)) {
    if (std::abs(by_speed - by) >= 0.5 * full_turn_rad)
      by += full_turn_rad * std::round((by_speed - by) / full_turn_rad);
  }
  if (std::isnan(by)) by = std::isnan(by_speed) ? 0 : by_speed;
  moved_rad_ = by;
  expected_rad_ = by_speed;
  raw_rad_ += by;
  turned_rad_ += std::abs(by);
  step_rad_ = std::abs(by);
  if (!std::isnan(row.angle_rad)) {
    // The reading itself, in the turn the sum has come to.
    const double ahead_rad = raw_rad_ - row.angle_rad;
    if (std::abs(ahead_rad - full_turn_rad * whole_turns_) >= 0.5 * full_turn_rad)
      whole_turns_ = std::round(ahead_rad / full_turn_rad);
    raw_rad_ = row.angle_rad + full_turn_rad * whole_turns_;
    if (!angle_seen_) before_rad_ = angle_rad() - by;
    angle_seen_ = true;
    last_angle_ = row.angle_rad;
  }
  speed_moved_ = row.speed_rad_s != last_speed_;
  last_speed_ = row.speed_rad_s;
  watch_index(row);
  any_ = true;
}

void Turning::watch_index(const Row& row) {
  const double index = row.at(roles_.index);
  const bool rising = index > 0.5 && last_index_ <= 0.5;
  last_index_ = index;
  // A pulse that comes with a jump, or while the optic stands, says nothing.
  if (!rising || !(step_rad_ > 0) || step_rad_ > 0.2) return;
  const double here = raw_rad_ - 0.5 * step_rad_;
  if (pulses_++ == 0) {
    index_at_rad_ = here;
  } else {
    const double crept = wrapped_rad(here - slip_rad_ - index_at_rad_);
    if (std::abs(crept) > step_rad_) slip_rad_ += crept;
  }
  turned_rad_ = 0;
}

double Turning::Known::uncertainty_rad() const {
  if (!seen) return 0.5 * full_turn_rad / std::sqrt(3.0);  // anywhere on the circle
  return std::hypot(creep_rad_turn * turned_rad / full_turn_rad, step_rad / std::sqrt(12.0));
}

}  // namespace vacuary::run
