// Inside of `calibrate`: the fit, and which parameters it may keep.
#pragma once

#include <vector>

#include "calibrate/calibrate.hpp"
#include "calibrate/strip_model.hpp"
#include "physics/nonlinear_fit.hpp"

namespace vacuary::calibrate {

// What the chamber file knows of the four already; film per energy: nothing.
struct Known {
  std::array<double, parameter_count> value{};
  std::array<double, parameter_count> uncertainty{};
};
[[nodiscard]] Known known_from(const plan::Cathode& cathode);

// Residuals: the points, then one a held parameter, then one a parameter of the four. Parameters as in
// StripModel, film per energy and openings in SI.
struct Problem {
  const StripModel* model = nullptr;
  std::vector<double> measured_m, uncertainty_m;
  Known known;
  std::array<bool, parameter_count> from_file{};  // held by the chamber file instead of free
};

[[nodiscard]] Problem problem_of(const StripModel& model, const plan::Strip& strip, const Known& known);
[[nodiscard]] physics::NonlinearFit solve(const Problem& problem);

// The fit as it is kept: parameters the strip tells worse than the chamber file does come from there.
struct Solved {
  physics::NonlinearFit all_free, fit;  // held parameters in their standard uncertainties
  Problem problem;
  std::array<Origin, parameter_count> origin{};
};
[[nodiscard]] Solved fit_strip(const StripModel& model, const plan::Strip& strip, const Known& known);

// The variance of each of the four by what it comes from; `names` of the held parameters.
[[nodiscard]] std::vector<Share> budget_of(const physics::NonlinearFit& fit, const Problem& problem);

// What would be known with a strip like this one beside, all four free: a few are tried.
[[nodiscard]] std::vector<NextStrip> next_strips(const plan::Plan& plan, const plan::Strip& strip,
                                                 const std::vector<double>& parameters);

// The chamber file's parts as text (TOML), ready to be pasted.
[[nodiscard]] std::string block_text(const plan::Plan& plan, const plan::Strip& strip,
                                     const Calibration& calibration);

}  // namespace vacuary::calibrate
