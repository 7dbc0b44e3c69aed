#include "calibrate/fit.hpp"

#include <algorithm>
#include <cmath>

namespace vacuary::calibrate {
namespace {

// A free parameter is not quite free: this many times what the file says of it keeps the sum of
// squares closed where the strip says nothing, and moves nothing where it does.
constexpr double freedom = 30;

double scale_of(const Problem& problem, std::size_t parameter) {
  if (parameter == 0) return 0.01 * problem.known.value[0];
  return std::max(problem.known.uncertainty[parameter], 1e-6);
}

double hold_of(const Problem& problem, std::size_t parameter) {
  const double u =
      parameter == 0 ? problem.known.value[0] : std::max(problem.known.uncertainty[parameter], 1e-6);
  return problem.from_file[parameter] ? u : freedom * u;
}

}  // namespace

Known known_from(const plan::Cathode& cathode) {
  const plan::Calibration& c = cathode.calibration;
  return {{c.film_per_energy.value.value(), cathode.emission_exponent.value.value(),
           c.diffuse_share.value.value(), 0},
          {c.film_per_energy.value.value() * c.uncertainty.value.value(),
           cathode.emission_exponent_uncertainty.value.value(), c.diffuse_share_uncertainty.value.value(),
           cathode.shield_opening_uncertainty.value.value()}};
}

Problem problem_of(const StripModel& model, const plan::Strip& strip, const Known& known) {
  Problem problem;
  problem.model = &model;
  problem.known = known;
  for (const plan::Exposure& exposure : strip.exposures) {
    for (const plan::StripPoint& point : exposure.points) {
      problem.measured_m.push_back(point.thickness.value.value());
      problem.uncertainty_m.push_back(point.uncertainty.value.value());
    }
  }
  return problem;
}

physics::NonlinearFit solve(const Problem& problem) {
  const std::vector<Held>& held = problem.model->held();
  const std::size_t points = problem.measured_m.size();
  const auto residuals = [&](const std::vector<double>& x, std::vector<double>& r) {
    // Held parameters are counted in their uncertainty, so that one that is exact does no harm.
    std::vector<double> p = x;
    for (std::size_t k = 0; k < held.size(); ++k) p[parameter_count + k] *= held[k].uncertainty;
    const std::vector<double> film = problem.model->film_m(p);
    for (std::size_t i = 0; i < points; ++i)
      r[i] = (film[i] - problem.measured_m[i]) / problem.uncertainty_m[i];
    for (std::size_t k = 0; k < held.size(); ++k) r[points + k] = x[parameter_count + k];
    for (std::size_t j = 0; j < parameter_count; ++j)
      r[points + held.size() + j] = (x[j] - problem.known.value[j]) / hold_of(problem, j);
  };
  std::vector<double> start(problem.known.value.begin(), problem.known.value.end());
  std::vector<double> scales;
  for (std::size_t j = 0; j < parameter_count; ++j) scales.push_back(scale_of(problem, j));
  start.resize(parameter_count + held.size(), 0);
  scales.resize(start.size(), 1);
  return physics::fit_nonlinear(residuals, points + held.size() + parameter_count, start, scales);
}

// With C = (J^T J)^-1, rows g of J that share a source give C J_g^T J_g C, and all of them C.
std::vector<Share> budget_of(const physics::NonlinearFit& fit, const Problem& problem) {
  const std::vector<Held>& held = problem.model->held();
  const std::size_t points = problem.measured_m.size();
  const auto share_of = [&](const std::string& source, std::size_t first, std::size_t last) {
    Share share{source, {}};
    for (std::size_t j = 0; j < parameter_count; ++j) {
      double sum = 0;
      for (std::size_t i = first; i < last; ++i) {
        double by = 0;
        for (std::size_t k = 0; k < fit.covariance.size(); ++k)
          by += fit.covariance[j][k] * fit.jacobian[i][k];
        sum += by * by;
      }
      share.share[j] = sum / fit.covariance[j][j];
    }
    return share;
  };
  std::vector<Share> budget{share_of("points of the strip", 0, points)};
  for (std::size_t k = 0; k < held.size(); ++k) {
    if (held[k].uncertainty > 0) budget.push_back(share_of(held[k].name, points + k, points + k + 1));
  }
  for (std::size_t j = 0; j < parameter_count; ++j) {
    const std::size_t row = points + held.size() + j;
    if (problem.from_file[j])
      budget.push_back(share_of(std::string(name(static_cast<Parameter>(j))) + ", as the chamber file has it",
                                row, row + 1));
  }
  std::stable_sort(budget.begin(), budget.end(),
                   [](const Share& a, const Share& b) { return a.share[0] > b.share[0]; });
  return budget;
}

}  // namespace vacuary::calibrate
