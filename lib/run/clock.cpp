#include "run/clock.hpp"

#include <cmath>

namespace vacuary::run {
namespace {

constexpr double least_power = 0.1;  // of rated: the counter runs
constexpr double steady = 0.1;       // relative difference of neighbours that are taken as steady
constexpr double same_row = 0.3;     // of a row's worth: counters have digits, rows come when they come
constexpr double speed_known_to = 0.01;
constexpr double again_s = 600;           // within which no clock is set forward by the same twice
constexpr std::size_t most_steps = 1000;  // a clock that is set more often than that is not followed

}  // namespace

Turned turned_between(const Moment& before, const Moment& row) {
  const double speed = std::abs(0.5 * (before.speed_rad_s + row.speed_rad_s));
  const double one_row = speed * row.period_s;
  if (!(one_row > 0) || one_row > full_turn_rad / 4 ||
      std::abs(before.speed_rad_s / row.speed_rad_s - 1) > steady)
    return Turned::unknown;
  const double turned = std::abs(wrapped_rad(row.angle_rad - before.angle_rad));
  const double by_clock = std::abs(wrapped_rad(speed * row.dt_s));
  if (std::isnan(turned) || std::abs(by_clock - one_row) <= 0.5 * one_row + speed_known_to * speed * row.dt_s)
    return Turned::unknown;
  return std::abs(turned - one_row) < same_row * one_row ? Turned::one_row : Turned::not_one_row;
}

Instant ClockSteps::dated(Instant time) const {
  std::int64_t off_ns = 0;
  for (const auto& [from, taken_ns] : steps_) {
    if (time < from) break;
    off_ns = taken_ns;
  }
  return {time.ns - off_ns};
}

bool ClockSteps::counted_one_row(const Moment& before, const Moment& row) const {
  const double power_w = 0.5 * (before.power_w + row.power_w);
  const double ran_s = (row.counter_j - before.counter_j) / power_w;
  const bool running =
      power_w > least_power * rated_w_ && std::abs(row.power_w / before.power_w - 1) < steady;
  const bool fine_enough = (row.dt_s - row.period_s) * power_w > least_j_;
  return running && fine_enough && std::abs(ran_s - row.period_s) < same_row * row.period_s;
}

void ClockSteps::look_at_digits(Instant read) {
  while (resolution_ns_ > 1000 && read.ns % resolution_ns_ != 0) resolution_ns_ /= 10;
}

double ClockSteps::resolution_s() const {
  return greater(static_cast<double>(resolution_ns_) * 1e-9, usual_jump_s_);
}

// Stamps that are rounded put rows apart by one unit more every so often, which looks like a clock that was
// set forward by it.
bool ClockSteps::rounded(double jumped_s, Instant at) {
  const bool again =
      std::abs(jumped_s - last_jump_s_) < steady * jumped_s && seconds(last_jump_at_, at) < again_s;
  if (again) usual_jump_s_ = greater(usual_jump_s_, jumped_s);
  last_jump_s_ = jumped_s;
  last_jump_at_ = at;
  return jumped_s < (1 + steady) * resolution_s();
}

void ClockSteps::row(const Moment& before, Row& row, Instant read) {
  look_at_digits(read);
  row.stamp_s = resolution_s();
  const double counted_j = row.counter_j - before.counter_j;
  if (counted_j > 0) least_j_ = lesser(least_j_, counted_j);
  const bool apart = row.dt_s > 1.5 * row.period_s && row.period_s > 0;
  if (!apart || steps_.size() >= most_steps || !counted_one_row(before, row) ||
      turned_between(before, row) == Turned::not_one_row || row.dt_s - row.period_s < row.shared_s ||
      rounded(row.dt_s - row.period_s, row.time)) {
    return;
  }
  row.jumped_s = row.dt_s - row.period_s;
  const auto jumped_ns = static_cast<std::int64_t>(std::llround(row.jumped_s * 1e9));
  steps_.emplace_back(read, jumped_ns + (steps_.empty() ? 0 : steps_.back().second));
  row.time = {row.time.ns - jumped_ns};
  row.dt_s = seconds(before.time, row.time);
  row.gap = false;
}

}  // namespace vacuary::run
