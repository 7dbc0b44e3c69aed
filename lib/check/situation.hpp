// Inside of `check`: what state the plan, taken at its word, leaves the chamber in.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::check {

// The state before a step. Pointers are into the plan.
struct Situation {
  bool at_air = true;                // closed but not pumped, or vented
  std::optional<Pressure> pressure;  // as the plan states it; none: the plan does not say
  Region pressure_at;                // where it says so
  const plan::Step* previous = nullptr;
  const plan::Step* vent = nullptr;   // the vent that let the air in, if one did
  const plan::Step* clean = nullptr;  // last plasma clean since the chamber was closed
  // The pumpdown by a high-vacuum pump since the last clean or vent.
  const plan::Step* base = nullptr;
  std::vector<std::string> conditioned;  // cathodes pre-sputtered since the last clean or vent
};

// One per step, in order. The chamber starts closed and at air.
[[nodiscard]] std::vector<Situation> situations(const plan::Plan& plan);

[[nodiscard]] bool is_high_vacuum(const plan::Pump& pump);
// The high-vacuum pump a step names, nullptr if none; the same for a roughing pump.
[[nodiscard]] const plan::Pump* high_vacuum_pump(const plan::Chamber& chamber, const plan::Step& step);
[[nodiscard]] const plan::Pump* roughing_pump(const plan::Chamber& chamber, const plan::Step& step);

// The gas that makes most of a step's pressure: that of the largest flow; without any flow, water
// in a pumpdown or hold below 1e-3 mbar (common practice) and air above. `pressure` decides that.
[[nodiscard]] std::string main_gas(const plan::Chamber& chamber, const plan::Step& step, Pressure pressure);

// Reading of the gauge over true pressure of that gas; 1 when the chamber file states no factor.
[[nodiscard]] double sensitivity(const plan::Gauge& gauge, const std::string& gas);

// How long the step lasts by its own end: time, turns or angle at the planned speed, energy at the
// planned power. None for an end on pressure or thickness, or when something is missing.
[[nodiscard]] std::optional<Duration> planned_duration(const plan::Step& step);

}  // namespace vacuary::check
