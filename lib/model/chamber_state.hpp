// The chamber as the physics sees it. Inside `model` only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/quality.hpp"
#include "physics/physics.hpp"
#include "plan/plan.hpp"

namespace vacuary::model {

// By name, in any list of named things; nullptr when there is none.
template <class T>
[[nodiscard]] const T* named(const std::vector<T>& things, const std::string& name) {
  for (const T& thing : things) {
    if (thing.name.value == name) return &thing;
  }
  return nullptr;
}

[[nodiscard]] std::vector<physics::OutgassingWall> walls(const plan::Chamber& chamber, double factor = 1);

[[nodiscard]] PumpingSpeed pump_speed(const plan::Chamber& chamber, const plan::Pump& pump,
                                      const std::string& gas);
[[nodiscard]] PumpingSpeed table_speed(const plan::Pump& pump, Pressure pressure);

// The pumps a step uses, in order; all of them, roughing first, when it names none.
[[nodiscard]] std::vector<const plan::Pump*> pumps_of(const plan::Chamber& chamber, const plan::Step& step);

// One pumping stage per pump, crossing over at the next pump's highest crossover pressure.
// `throttle` multiplies all speeds; `factor` too.
[[nodiscard]] std::vector<physics::PumpingStage> stages(const plan::Chamber& chamber,
                                                        const std::vector<const plan::Pump*>& pumps,
                                                        double factor = 1);

// Partial pressures a step's gas comes to in its last pump, throttled; oxygen and nitrogen as air.
// Empty without gas or without a pump.
struct WorkingGas {
  physics::PartialPressures p;
  Pressure ultimate{};          // of the pump, part of p.air
  double flow_uncertainty = 0;  // relative, of the sum
};
[[nodiscard]] std::optional<WorkingGas> working_gas(const plan::Chamber& chamber, const plan::Step& step);

}  // namespace vacuary::model
