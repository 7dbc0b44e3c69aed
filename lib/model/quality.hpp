// What a step does besides laying thickness: residual gas in the film, the clean, heat in the glass,
// the reflectance such a film can have. Part of the front door model.hpp.
//
// Every function takes the figure it rests on (a pressure, an energy), so that `model` feeds it what
// is planned and `run` what was logged.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "plan/plan.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::model {

// Relative standard uncertainties that no plan file states; every output that uses one says so.
inline constexpr double outgassing_uncertainty = 0.5;   // tables differ by a factor of two and more
inline constexpr double speed_uncertainty = 0.10;       // of pumping speeds
inline constexpr double rotation_uncertainty = 0.005;   // of the drive's speed
inline constexpr double p0d0_uncertainty = 0.30;        // when assumed, not measured
inline constexpr double desorption_uncertainty = 0.30;  // of the plasma desorption factor
inline constexpr double gas_factor_uncertainty = 0.10;  // of a nitrogen-equivalent gauge, for the right gas

// Equivalent width of the standing beam at the calibration's radius, as an angle of the optic:
//   (B1)  width = 2 pi times the mean over a turn of G over its greatest value
// with G the kernel of cathode, shield and glass as built (film_map.hpp), straight and scattered atoms in the
// calibration's shares.
[[nodiscard]] Angle beam_width(const plan::Cathode& cathode, const plan::Optic& optic);

// ---- residual gas against metal

struct ResidualGas {
  Pressure water{};          // partial, while the discharge burns; all residual gas counted as water
  Estimate<Ratio> in_beam;   // molecules arriving per metal atom, under the standing beam
  Estimate<Ratio> per_turn;  // the same over a turn: gas comes all the way round, metal in the beam only
  std::vector<std::string> assumed;
  // The true value is within this factor either way (k = 2, on the logarithm).
  [[nodiscard]] double known_to() const;
};
// Water while a discharge burns, from the gas load of the walls: throttled as the argon is, times the
// chamber's plasma_desorption. Zero when the step's pumps do not take water.
[[nodiscard]] Pressure water_in_discharge(const plan::Chamber& chamber, const plan::Step& step,
                                          MolarFlow load);
// `water_uncertainty` standard, relative, of the pressure; `turn_average`: how fast the film grows over whole
// turns. None for a metal without an atomic mass in the tables, or a film that does not grow.
[[nodiscard]] std::optional<ResidualGas> residual_gas(const plan::Plan& plan, const plan::Cathode& cathode,
                                                      Pressure water, Ratio water_uncertainty,
                                                      DepositionRate turn_average);

// ---- heat in the glass

struct Heating {
  HeatDensity heat{};                     // what lands on the glass in the whole step
  TemperatureDifference front{}, back{};  // their rise at the end of the step
  TemperatureDifference pass{};           // on top at the surface at the end of one pass; 0: no beam
  Length depth{};                         // how deep the heat has gone by then, sqrt(a t)
  double known_to = 0;                    // within this factor; 0: an upper bound
  std::string from;                       // "the film at 20 eV per atom, averaged over the step"
  [[nodiscard]] TemperatureDifference difference() const { return front - back; }
};
[[nodiscard]] std::optional<Heating> film_heating(const plan::Plan& plan, const plan::Cathode& cathode,
                                                  Length film, Duration time, std::optional<Duration> turn);
// All energy of the glow spread evenly over the chamber's surfaces: an upper bound on an even share.
[[nodiscard]] std::optional<Heating> glow_heating(const plan::Plan& plan, Energy energy, Duration time);

// ---- the glow clean

inline constexpr double sites_per_m2 = 1e19;  // molecules of one layer
// Charge per area, all of the current spread evenly over all surfaces: an upper bound. None without surfaces.
[[nodiscard]] std::optional<ChargeDensity> clean_dose(const plan::Chamber& chamber, Charge charge);
[[nodiscard]] ChargeDensity one_layer();  // one charge for each molecule of one layer

// Can a glow strike (Paschen)? The path from electrode to wall may be anything from `shortest` to
// `longest`, the cube root of the chamber's volume.
struct Strike {
  std::string gas;
  std::optional<Voltage> oxidised, clean;   // least voltage at this pressure: 0.1 and 0.01 electrons per ion
  std::optional<Voltage> least;             // at the best of all pressures, clean
  std::optional<Pressure> lowest, highest;  // between which the voltage strikes a clean electrode somewhere
  Length shortest{}, longest{};
};
// None for a gas without published coefficients.
[[nodiscard]] std::optional<Strike> strike(const plan::Chamber& chamber, const std::string& gas,
                                           Pressure pressure, Voltage voltage);

// ---- reflectance

// Of a film of this thickness as the optic file describes it, at normal incidence.
struct FilmReflectance {
  Length wavelength{};
  Ratio low, high;            // over the published constants; what scatters is taken off
  bool spread_known = false;  // more than one source, or a stated doubt
  std::vector<std::string> sources;
  Ratio scattered;  // share lost to the stated roughness
  std::optional<Length>
      opaque_from;  // thinnest film whose reflectance is within 0.1 points of an endless one's
  std::vector<std::string> assumed;
};
// None for a metal or overcoat without constants, or a wavelength outside 250 nm to 6 um.
[[nodiscard]] std::optional<FilmReflectance> film_reflectance(const plan::Optic& optic, Length thickness,
                                                              Length wavelength);

}  // namespace vacuary::model
