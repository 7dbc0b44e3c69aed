// Front door of `calibrate`: a witness strip to what the cathode does.
//
// A strip's thickness at radius r after whole turns, with the energy E, is
//   T = kappa E f [ eta S(r) / S(R) + (1 - eta) s D(r) / D(R) ] / (eta_c + (1 - eta_c) s)          (1)
// S and D the turn means of atoms that fly straight and that the gas has scattered (physics/film_map.hpp)
// through the opening the exposure had, at the reference radius R through the one the calibration is
// stated for; eta transport at the exposure's pressure, eta_c at the calibration's; f voltage and
// erosion against the calibration's state (model.hpp). Fitted are
//   kappa  film per energy          n  emission exponent (in S)
//   s      diffuse share            o  opening: how much wider than its table the shield is, all along
// by weighted least squares (physics/nonlinear_fit.hpp). The shield's effect is an offset and no scale
// or height: a deposit on the edges or a saw's kerf is one, and a scale or a height only changes film
// per energy, which is measured anyway. What is not fitted but not exact either (energy, gauge scale,
// throw, ends of the racetrack, height of the shield; p0d0 when pressures differ) has a parameter of
// its own, held by its stated uncertainty, so that the covariance holds their share too.
// A parameter that the strip tells less well than the chamber file already says is taken from there,
// with the file's value and uncertainty, and is said to be.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "model/model.hpp"
#include "plan/strip.hpp"

namespace vacuary::calibrate {

enum class Parameter : std::uint8_t { film_per_energy, emission_exponent, diffuse_share, opening };
inline constexpr std::size_t parameter_count = 4;
[[nodiscard]] const char* name(Parameter parameter);  // "emission exponent"

enum class Origin : std::uint8_t {
  strip,         // the strip tells it
  chamber_file,  // the strip tells it less well than the chamber file does
  bound          // the fit wanted what cannot be: at the bound
};

struct Fitted {
  Origin origin = Origin::strip;
  double value = 0, uncertainty = 0;            // in unit(): standard
  double strip_uncertainty = 0;                 // what the strip alone would know it to, all four free
  double file_value = 0, file_uncertainty = 0;  // as the chamber file has it
};

// What a source of uncertainty adds to each parameter: its share of the variance.
struct Share {
  std::string source;
  std::array<double, parameter_count> share{};
};

struct PairTold {
  Parameter a, b;
  double correlation = 0;  // with all four free
};

// A strip that could be laid next, and what would then be known.
struct NextStrip {
  std::string what;
  std::array<double, parameter_count> uncertainty{};  // standard, all four free, in the units of Fitted
};

struct PointFit {
  Region at;
  std::size_t exposure = 0;
  Length radius{}, measured{}, fitted{};
  double residual = 0;  // in its standard uncertainties
};

struct Calibration {
  std::string cathode, strip;
  std::array<Fitted, parameter_count> parameters;  // by Parameter; m/J, ratio, ratio, m
  std::array<std::array<double, parameter_count>, parameter_count> correlation{};
  std::vector<PairTold> not_told_apart;  // |correlation| above 0.9, all four free
  std::vector<Share> budget;
  double chi_squared = 0, probability = 1;
  std::size_t degrees_of_freedom = 0;
  std::vector<PointFit> points;
  std::vector<NextStrip> next;  // the best for each parameter, at most four
  plan::Calibration state;      // the block's new content
  std::vector<std::string> assumed;
  std::string block;  // TOML for the chamber file

  [[nodiscard]] const Fitted& of(Parameter parameter) const {
    return parameters[static_cast<std::size_t>(parameter)];
  }
  [[nodiscard]] Estimate<ThicknessPerEnergy> film_per_energy() const;
  [[nodiscard]] Estimate<Ratio> emission_exponent() const;
  [[nodiscard]] Estimate<Ratio> diffuse_share() const;
  [[nodiscard]] Estimate<Length> opening() const;
};

// Pure. Findings come as the result's diagnostics (strip-does-not-fit, strip-point-off,
// strip-tells-too-little). Precondition: the strip loaded without errors against this plan.
[[nodiscard]] Result<Calibration> calibrate(const plan::Plan& plan, const plan::Strip& strip);

}  // namespace vacuary::calibrate
