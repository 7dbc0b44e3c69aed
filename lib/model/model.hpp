// Front door of `model`: plan and physics to what this chamber will do with this recipe.
//
// The one place where a plan becomes numbers; `check`, `run` and `report` share it, so that what
// is predicted and what is reconstructed rest on the same calibration. Every estimate carries a
// standard uncertainty and the assumptions behind it.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "model/film_map.hpp"
#include "model/quality.hpp"
#include "physics/yield.hpp"
#include "plan/plan.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::model {

// One input of an uncertainty budget (JCGM 100): standard uncertainty of the input and its
// contribution to the result, both relative to the result unless said otherwise in `input`.
struct BudgetLine {
  std::string input;           // "film per energy (calibration)"
  Ratio standard_uncertainty;  // of the input, relative
  Ratio contribution;          // sensitivity times that, relative to the result
  Ratio share;                 // of the combined variance
};

// Film per energy of a cathode for the state it is in (pressure, voltage, target energy used), at
// the calibration's reference radius, turn-averaged. `claimable` is false, with the reason, when
// the voltage is outside the calibrated band, the shield or target is another, or the gas is.
struct FilmPerEnergy {
  Estimate<ThicknessPerEnergy> value;
  std::vector<BudgetLine> budget;
  bool claimable = true;
  std::string why_not;
  std::vector<std::string> assumed;  // what the corrections away from the calibration rest on
  std::vector<std::string> doubts;   // far from the calibrated state, though still claimable
};
// The calibration carried to another state: times transport(p) / transport(calibrated p), times
// yield(V) / V over the same at the calibrated voltage (constant power), times the erosion law. A
// voltage that is not known is given as NaN: no correction, and not claimable. `gas`: the working gas
// if the caller knows it. The uncertainties of `pressure` and of the energy are the caller's: see
// film_pressure_sensitivity.
[[nodiscard]] FilmPerEnergy film_per_energy(const plan::Chamber& chamber, const plan::Cathode& cathode,
                                            Voltage voltage, Pressure pressure, Energy energy_used,
                                            const std::string& gas = {});

// d ln(film per energy) / d ln(pressure), between -1 and 0.
[[nodiscard]] Ratio film_pressure_sensitivity(const plan::Cathode& cathode, Pressure pressure);

// The numbers of film_per_energy alone, for the many states of one cathode in a log.
class FilmRate {
 public:
  explicit FilmRate(const plan::Cathode& cathode);

  // Reasons for film_per_energy's doubts, as bits.
  enum Doubt : unsigned { pressure_unknown = 1, pressure_far = 2, target_worn = 4 };
  struct Input {
    const char* name;             // of the budget line; one object for each name
    double standard_uncertainty;  // relative
    double contribution;          // relative to the film, above 1e-9
  };
  struct At {
    ThicknessPerEnergy value{};
    Ratio pressure_sensitivity{};   // film_pressure_sensitivity
    Ratio straight = Ratio::of(1);  // straight_share; of the calibration where the pressure is not known
    std::array<Input, 4> inputs{};
    std::size_t input_count = 0;
    unsigned doubts = 0;
    bool voltage_known = false, voltage_in_band = false;
    void add(const char* name, double u, double contribution);
  };
  // A voltage or a pressure that is not known is NaN, as for film_per_energy.
  [[nodiscard]] At at(Voltage voltage, Pressure pressure, Energy energy_used) const;
  // Whether the target's yield is known, so that there is a correction for voltage.
  [[nodiscard]] bool corrects_voltage() const { return yield_.has_value(); }

 private:
  double by_voltage(Voltage voltage, At& now) const;
  double by_pressure(Pressure pressure, At& now) const;

  const plan::Cathode* cathode_;
  std::optional<physics::ArgonYield> yield_;
  // At the calibration: yield per volt, arriving share, sensitivity.
  double yield_per_volt_ = 0, arriving_ = 1, sensitivity_ = 0;
  Ratio straight_;
};

// Standard uncertainty of a reading of `pressure` by the gauge of the chamber that sees it best
// (accuracy and zero drift), relative; none when no gauge sees it.
struct GaugeUncertainty {
  std::string gauge;
  Ratio relative;
};
[[nodiscard]] std::optional<GaugeUncertainty> gauge_uncertainty(const plan::Chamber& chamber,
                                                                Pressure pressure);

// Effective pumping speed at the chamber for a gas, all high-vacuum pumps open, each in series with
// its valve (bore, transmission, conductance of the opening). "air" is taken as N2, and so is a gas
// the pump's table does not list. Zero when the chamber has no such pump.
[[nodiscard]] PumpingSpeed high_vacuum_speed(const plan::Chamber& chamber, const std::string& gas);
// Of all roughing pumps at `pressure`, by their tables; what they reach alone is not taken off.
[[nodiscard]] PumpingSpeed roughing_speed(const plan::Chamber& chamber, Pressure pressure);

// Gas load of the walls after `pumped` of pumping, all surfaces, without the leak.
[[nodiscard]] MolarFlow outgassing(const plan::Chamber& chamber, Duration pumped);

// Pressure the step's gas flows come to with its pumps and throttle (every gas at its own speed);
// none when the step lets in no gas or has no pump that takes it.
[[nodiscard]] std::optional<Estimate<Pressure>> working_pressure(const plan::Chamber& chamber,
                                                                 const plan::Step& step);

struct StepPrediction {
  std::string step;
  std::optional<Estimate<Duration>> duration;  // none: it never ends within `longest`
  std::string duration_why;                    // how it was worked out, or why never
  std::optional<Estimate<Pressure>> end_pressure;
  std::optional<Estimate<Pressure>> working_pressure;  // from flow and throttled speed
  std::optional<Estimate<Energy>> energy;
  std::optional<Estimate<Count>> turns;
  std::optional<Estimate<Length>> film;  // this step's share of the mean thickness
  std::optional<Power> power;            // plateau
  std::optional<PowerDensity> power_density;
  std::optional<ResidualGas> residual;            // sputter
  std::optional<Heating> heating;                 // of the glass: sputter, plasma clean
  std::optional<ChargeDensity> clean_dose;        // plasma clean: at most, see clean_dose()
  std::optional<Estimate<Duration>> since_clean;  // sputter: from the end of the clean before it
  std::vector<std::string> assumed;
};

struct Prediction {
  std::vector<StepPrediction> steps;     // one per recipe step, in order
  std::optional<Estimate<Length>> film;  // sum over sputter steps
  std::vector<BudgetLine> film_budget;
  std::optional<FilmMap> film_map;                  // by predict_film_map
  std::optional<Estimate<Duration>> total;          // the whole run
  std::optional<Estimate<Pressure>> base_pressure;  // lowest total pressure reached before the film
  std::vector<FilmReflectance> reflectance;         // at the wavelengths wanted, of the film predicted
  Pressure lowest_reachable{};                      // leak limit and outgassing at the longest allowed time
};

// Fills in residual gas, heat, dose and reflectance from times and film; part of predict().
void add_quality(const plan::Plan& plan, Prediction& prediction);

// Pure; a plan that loaded without errors always gives a prediction.
[[nodiscard]] Prediction predict(const plan::Plan& plan);

// Where the film predicted will lie, the shutter opening with the mark under the cathode: whole turns
// are even, a part turn and a ramp leave their sectors. None when the recipe lays no film or its time
// is not known. Costs a kernel (some 0.1 s), so it is asked for apart.
[[nodiscard]] std::optional<FilmMap> predict_film_map(const plan::Plan& plan, const Prediction& prediction);

}  // namespace vacuary::model
