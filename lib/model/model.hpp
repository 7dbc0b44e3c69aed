// Front door of `model`: plan and physics to what this chamber will do with this recipe.
//
// The one place where a plan becomes numbers; `check`, `run` and `report` share it, so that what
// is predicted and what is reconstructed rest on the same calibration. Every estimate carries a
// standard uncertainty and the assumptions behind it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "plan/plan.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::model {

// One input of an uncertainty budget (JCGM 100): standard uncertainty of the input and its
// contribution to the result, both relative to the result unless said otherwise in `input`.
struct BudgetLine {
  std::string input;                 // "film per energy (calibration)"
  Ratio standard_uncertainty;        // of the input, relative
  Ratio contribution;                // sensitivity times that, relative to the result
  Ratio share;                       // of the combined variance
};

// Film per energy of a cathode for the state it is in (pressure, voltage, target energy used), at
// the calibration's reference radius, turn-averaged. `claimable` is false, with the reason, when
// the voltage is outside the calibrated band, the shield or target is another, or the gas is.
struct FilmPerEnergy {
  Estimate<ThicknessPerEnergy> value;
  std::vector<BudgetLine> budget;
  bool claimable = true;
  std::string why_not;
};
[[nodiscard]] FilmPerEnergy film_per_energy(const plan::Chamber& chamber, const plan::Cathode& cathode,
                                            Voltage voltage, Pressure pressure, Energy energy_used);

// Effective pumping speed at the chamber for a gas, through valves and with all named pumps open.
[[nodiscard]] PumpingSpeed high_vacuum_speed(const plan::Chamber& chamber, const std::string& gas);
[[nodiscard]] PumpingSpeed roughing_speed(const plan::Chamber& chamber, Pressure pressure);

// Gas load of the walls after `pumped` of pumping, all surfaces, without the leak.
[[nodiscard]] MolarFlow outgassing(const plan::Chamber& chamber, Duration pumped);

struct StepPrediction {
  std::string step;
  std::optional<Estimate<Duration>> duration;  // none: it never ends within `longest`
  std::string duration_why;                    // how it was worked out, or why never
  std::optional<Estimate<Pressure>> end_pressure;
  std::optional<Estimate<Pressure>> working_pressure;  // from flow and throttled speed
  std::optional<Estimate<Energy>> energy;
  std::optional<Estimate<Count>> turns;
  std::optional<Estimate<Length>> film;        // this step's share of the mean thickness
  std::optional<Power> power;                  // plateau
  std::optional<PowerDensity> power_density;
  std::vector<std::string> assumed;
};

struct Prediction {
  std::vector<StepPrediction> steps;           // one per recipe step, in order
  std::optional<Estimate<Length>> film;        // sum over sputter steps
  std::vector<BudgetLine> film_budget;
  std::optional<Estimate<Duration>> total;     // the whole run
  std::optional<Estimate<Pressure>> base_pressure;  // lowest total pressure reached before the film
  Pressure lowest_reachable{};                 // leak limit and outgassing at the longest allowed time
};

// Pure; a plan that loaded without errors always gives a prediction.
[[nodiscard]] Prediction predict(const plan::Plan& plan);

}  // namespace vacuary::model
