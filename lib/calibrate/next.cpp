// Which strip to lay next: what each of a few would bring each parameter's uncertainty to.
//
// The information of independent strips adds, J^T J + J'^T J' (optimal design; V. V. Fedorov, Theory of
// Optimal Experiments, 1972, ch. 1): no strip has to be laid to know what it would tell.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibrate/fit.hpp"

namespace vacuary::calibrate {
namespace {

struct Candidate {
  std::string what;
  plan::Strip strip;  // the strip and the candidate beside it
};

// As well measured as the strip at hand: its median relative uncertainty.
double usual_uncertainty(const plan::Strip& strip) {
  std::vector<double> all;
  for (const plan::Exposure& exposure : strip.exposures) {
    for (const plan::StripPoint& point : exposure.points)
      all.push_back(point.uncertainty.value.value() / point.thickness.value.value());
  }
  std::nth_element(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2), all.end());
  return all[all.size() / 2];
}

// The stated exposure again, at other radii.
plan::Exposure like(const plan::Exposure& exposure, const std::vector<double>& radii_m) {
  plan::Exposure made = exposure;
  made.name.value.clear();
  made.points.clear();
  for (const double r : radii_m) {
    plan::StripPoint point;
    point.radius.value = Length::from_value(r);
    made.points.push_back(point);
  }
  return made;
}

std::vector<double> spread(double from, double to, std::size_t n) {
  std::vector<double> out;
  for (std::size_t i = 0; i < n; ++i)
    out.push_back(from + (to - from) * static_cast<double>(i) / static_cast<double>(n - 1));
  return out;
}

std::vector<Candidate> candidates(const plan::Plan& plan, const plan::Strip& strip) {
  const plan::Exposure& shot = strip.exposures[stated_exposure(strip)];
  const bool has_shield = plan::cathode(plan.chamber, strip.cathode.value)->shield_height.has_value();
  const double inner = plan.optic->inner_radius.value.value();
  const double outer = plan.optic->outer_radius.value.value();
  const std::size_t n = std::clamp<std::size_t>(shot.points.size(), 3, 12);
  const double edge = 0.2 * (outer - inner);
  std::vector<Candidate> out;
  const auto add = [&](std::string what, plan::Exposure made) {
    out.push_back({std::move(what), strip});
    out.back().strip.exposures.push_back(std::move(made));
  };
  add(fmt::format("{} points over the whole radius, as before", n), like(shot, spread(inner, outer, n)));
  add(fmt::format("{} points over the inner fifth of the radius", n),
      like(shot, spread(inner, inner + edge, n)));
  add(fmt::format("{} points over the outer fifth of the radius", n),
      like(shot, spread(outer - edge, outer, n)));
  plan::Exposure denser = like(shot, spread(inner, outer, n));
  denser.pressure.value = 2.0 * shot.pressure.value;
  add(fmt::format("{} points over the whole radius at twice the pressure", n), std::move(denser));
  plan::Exposure bare = like(shot, spread(inner, outer, n));
  const bool without = !shot.shield.value.empty();
  bare.shield.value =
      without || !has_shield ? "" : plan::cathode(plan.chamber, strip.cathode.value)->shield.value;
  if (has_shield) {
    add(fmt::format("{} points over the whole radius {} the shield", n, without ? "without" : "through"),
        std::move(bare));
  }
  return out;
}

// The four's uncertainties with this strip, all free.
std::array<double, parameter_count> known_with(const plan::Plan& plan, const plan::Strip& strip,
                                               const std::vector<double>& four, double relative) {
  // A narrow range about the solution: three nodes give the slope, and that is all it takes.
  Range range;
  range.lowest_exponent = four[1] - 0.05;
  range.highest_exponent = four[1] + 0.05;
  range.opening_from_m = four[3] - 0.002;
  range.opening_to_m = four[3] + 0.002;
  range.exponents = range.openings = 3;
  const StripModel model(plan, strip, range);
  Problem problem = problem_of(model, strip, known_from(*plan::cathode(plan.chamber, strip.cathode.value)));
  for (std::size_t j = 0; j < parameter_count; ++j) problem.known.value[j] = four[j];
  std::vector<double> p = four;
  p.resize(parameter_count + model.held().size(), 0);
  problem.measured_m = model.film_m(p);
  for (std::size_t i = 0; i < problem.measured_m.size(); ++i) {
    if (!(problem.uncertainty_m[i] > 0)) problem.uncertainty_m[i] = relative * problem.measured_m[i];
  }
  const physics::NonlinearFit fit = solve(problem);
  std::array<double, parameter_count> out{};
  for (std::size_t j = 0; j < parameter_count; ++j) out[j] = fit.uncertainty(j);
  return out;
}

}  // namespace

std::vector<NextStrip> next_strips(const plan::Plan& plan, const plan::Strip& strip,
                                   const std::vector<double>& parameters) {
  const std::vector<double> four(parameters.begin(), parameters.begin() + parameter_count);
  const double relative = usual_uncertainty(strip);
  std::vector<NextStrip> all;
  for (const Candidate& candidate : candidates(plan, strip))
    all.push_back({candidate.what, known_with(plan, candidate.strip, four, relative)});
  return all;
}

}  // namespace vacuary::calibrate
