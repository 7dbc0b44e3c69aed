#include "calibrate/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "calibrate/fit.hpp"
#include "physics/physics.hpp"

namespace vacuary::calibrate {
namespace {

constexpr double no_fit_probability = 0.01;
constexpr double point_off = 3.5;  // standard uncertainties; one point in two thousand by chance
constexpr double hardly_told_apart = 0.9;

Diagnostic finding(const char* rule, Severity severity, const Region& at, std::string message) {
  Diagnostic d;
  d.rule = rule;
  d.severity = severity;
  d.message = std::move(message);
  d.where = at.place();
  return d;
}

std::size_t index(Parameter parameter) { return static_cast<std::size_t>(parameter); }

// The parameter the strip tells worst against what the file knows; none when it tells all better.
std::optional<std::size_t> worst_told(const physics::NonlinearFit& fit, const Problem& problem) {
  std::optional<std::size_t> worst;
  double by = 1;
  for (std::size_t j = 1; j < parameter_count; ++j) {
    if (problem.from_file[j]) continue;
    const double ratio = fit.uncertainty(j) / std::max(problem.known.uncertainty[j], 1e-9);
    if (ratio > by) by = ratio, worst = j;
  }
  return worst;
}

// A share of less than none or more than all cannot be: held at the bound, as well as the strip told it.
void keep_within_bounds(Solved& solved) {
  const std::size_t share = index(Parameter::diffuse_share);
  const double fitted = solved.fit.parameters[share];
  if (solved.origin[share] != Origin::strip || (fitted >= 0 && fitted <= 1)) return;
  solved.origin[share] = Origin::bound;
  solved.problem.known.value[share] = std::clamp(fitted, 0.0, 1.0);
  solved.problem.known.uncertainty[share] = solved.fit.uncertainty(share);
  solved.problem.from_file[share] = true;
  solved.fit = solve(solved.problem);
  solved.fit.parameters[share] = std::clamp(solved.fit.parameters[share], 0.0, 1.0);
}

}  // namespace

Solved fit_strip(const StripModel& model, const plan::Strip& strip, const Known& known) {
  Solved solved;
  solved.problem = problem_of(model, strip, known);
  solved.all_free = solved.fit = solve(solved.problem);
  while (const auto worst = worst_told(solved.fit, solved.problem)) {
    solved.problem.from_file[*worst] = true;
    solved.origin[*worst] = Origin::chamber_file;
    solved.fit = solve(solved.problem);
  }
  keep_within_bounds(solved);
  return solved;
}

namespace {

void fill_parameters(Calibration& out, const Solved& solved, const Known& known) {
  for (std::size_t j = 0; j < parameter_count; ++j) {
    out.parameters[j] = {
        solved.origin[j], solved.fit.parameters[j], solved.fit.uncertainty(j), solved.all_free.uncertainty(j),
        known.value[j],   known.uncertainty[j]};
    for (std::size_t k = 0; k < parameter_count; ++k) {
      out.correlation[j][k] = solved.fit.correlation(j, k);
      const double apart = solved.all_free.correlation(j, k);
      if (k > j && std::abs(apart) > hardly_told_apart) {
        out.not_told_apart.push_back({static_cast<Parameter>(j), static_cast<Parameter>(k), apart});
      }
    }
  }
}

// How the points lie about the fit. Held parameters bring as many rows as they have freedoms.
void fill_fit(Calibration& out, const Solved& solved, const StripModel& model, const plan::Strip& strip) {
  const std::size_t points = solved.problem.measured_m.size();
  std::size_t free = 0;
  for (const Origin origin : solved.origin) free += origin == Origin::strip ? 1 : 0;
  out.chi_squared = solved.fit.chi_squared;
  out.degrees_of_freedom = points > free ? points - free : 0;
  out.probability = physics::chi_squared_probability(out.chi_squared, out.degrees_of_freedom);
  std::vector<double> p = solved.fit.parameters;
  for (std::size_t k = 0; k < model.held().size(); ++k) p[parameter_count + k] *= model.held()[k].uncertainty;
  const std::vector<double> film = model.film_m(p);
  std::size_t i = 0;
  for (std::size_t e = 0; e < strip.exposures.size(); ++e) {
    for (const plan::StripPoint& point : strip.exposures[e].points) {
      out.points.push_back({point.thickness.at, e, point.radius.value, point.thickness.value,
                            Length::from_value(film[i]), -solved.fit.residuals[i]});
      ++i;
    }
  }
}

std::string in_words(Parameter parameter, double value, double uncertainty) {
  if (parameter == Parameter::opening)
    return fmt::format("{:.1f} mm +/- {:.1f} mm", value * 1e3, 2 * uncertainty * 1e3);
  return fmt::format("{:.2f} +/- {:.2f}", value, 2 * uncertainty);
}

void say_what_is_not_told(const Calibration& out, const plan::Strip& strip, Diagnostics& findings) {
  std::set<double> radii;
  for (const PointFit& point : out.points) radii.insert(point.radius.value());
  const Region at =
      strip.exposures.front().at.length > 0 ? strip.exposures.front().at : out.points.front().at;
  if (radii.size() < 2) {
    Diagnostic d = finding("strip-tells-too-little", Severity::warning, at,
                           "all points stand at one radius: only film per energy can be told");
    d.remedy = "measure at five radii or more, from the inner to the outer edge";
    findings.push_back(std::move(d));
    return;
  }
  for (std::size_t j = 1; j < parameter_count; ++j) {
    const Fitted& fitted = out.parameters[j];
    if (fitted.origin != Origin::chamber_file) continue;
    const auto parameter = static_cast<Parameter>(j);
    Diagnostic d = finding("strip-tells-too-little", Severity::note, at,
                           fmt::format("the {} is taken from the chamber file", name(parameter)));
    d.found = fitted.strip_uncertainty < 15 * fitted.file_uncertainty
                  ? fmt::format("this strip alone tells it to +/- {} (k = 2)",
                                parameter == Parameter::opening
                                    ? fmt::format("{:.1f} mm", 2e3 * fitted.strip_uncertainty)
                                    : fmt::format("{:.2f}", 2 * fitted.strip_uncertainty))
                  : "this strip does not tell it at all";
    d.bound = "the chamber file has " + in_words(parameter, fitted.file_value, fitted.file_uncertainty);
    findings.push_back(std::move(d));
  }
}

void say_how_it_fits(const Calibration& out, const plan::Strip& strip, Diagnostics& findings) {
  if (out.degrees_of_freedom > 0 && out.probability < no_fit_probability) {
    const Region at = strip.name.at.length > 0 ? strip.name.at : out.points.front().at;
    Diagnostic d = finding("strip-does-not-fit", Severity::warning, at,
                           "no film this cathode could lay passes through these points");
    d.found = fmt::format("chi squared {:.1f}, by chance with a probability of {:.1g}", out.chi_squared,
                          out.probability);
    d.bound = fmt::format("about {} expected", out.degrees_of_freedom);
    d.assumed.emplace_back("geometry, shield and uncertainties are what the files say");
    d.remedy =
        "look at the points furthest off, at which shield was in, and at the uncertainties; do not use "
        "this calibration until it is understood";
    findings.push_back(std::move(d));
  }
  for (const PointFit& point : out.points) {
    if (std::abs(point.residual) <= point_off) continue;
    Diagnostic d = finding("strip-point-off", Severity::warning, point.at,
                           fmt::format("this point lies {:.1f} standard uncertainties {} the fit",
                                       std::abs(point.residual), point.residual > 0 ? "above" : "below"));
    d.found = fmt::format("{:.2f} nm measured", point.measured.value() * 1e9);
    d.bound = fmt::format("{:.2f} nm by the fit", point.fitted.value() * 1e9);
    d.remedy = "measure it again; leave it out only when a reason is found on the glass";
    findings.push_back(std::move(d));
  }
}

plan::Calibration state_of(const plan::Plan& plan, const plan::Strip& strip, const Calibration& out) {
  const plan::Cathode& cathode = *plan::cathode(plan.chamber, strip.cathode.value);
  const plan::Exposure& at = strip.exposures[stated_exposure(strip)];
  plan::Calibration state = cathode.calibration;
  const Fitted& kappa = out.of(Parameter::film_per_energy);
  state.film_per_energy.value = ThicknessPerEnergy::from_value(kappa.value);
  state.uncertainty.value = Ratio::of(kappa.uncertainty / kappa.value);
  state.pressure = at.pressure;
  state.voltage = at.voltage;
  state.gas = at.gas;
  state.energy_used.value = at.energy_used.value + 0.5 * at.energy.value;
  state.energy_used.unit = at.energy_used.unit;
  state.shield = at.shield;
  state.target_serial = at.target_serial;
  state.date = at.date;
  state.diffuse_share.value = out.diffuse_share().value;
  state.diffuse_share_uncertainty.value = out.diffuse_share().standard_uncertainty;
  return state;
}

std::vector<std::string> assumptions(const plan::Cathode& cathode, const Solved& solved) {
  std::vector<std::string> out{
      "film per energy is a turn's mean at the calibration's radius; a strip's part turn counts as "
      "uncertainty",
      "the supply's own accuracy is counted here, and again in each run: cautious, as it is the same supply",
      "scattered atoms leave through the opening by the cosine law from every part of it",
      fmt::format("transport by p0d0 = {:.3g} Pa cm; the diffuse share is as counted with it",
                  cathode.p0d0.value.value() * 100)};
  if (!solved.fit.converged) out.emplace_back("the fit did not come to rest: take its figures as rough");
  return out;
}

}  // namespace

const char* name(Parameter parameter) {
  switch (parameter) {
    case Parameter::film_per_energy:
      return "film per energy";
    case Parameter::emission_exponent:
      return "emission exponent";
    case Parameter::diffuse_share:
      return "diffuse share";
    case Parameter::opening:
      break;
  }
  return "shield's opening against its table";
}

Estimate<ThicknessPerEnergy> Calibration::film_per_energy() const {
  const Fitted& p = of(Parameter::film_per_energy);
  return {ThicknessPerEnergy::from_value(p.value), ThicknessPerEnergy::from_value(p.uncertainty)};
}
Estimate<Ratio> Calibration::emission_exponent() const {
  const Fitted& p = of(Parameter::emission_exponent);
  return {Ratio::of(p.value), Ratio::of(p.uncertainty)};
}
Estimate<Ratio> Calibration::diffuse_share() const {
  const Fitted& p = of(Parameter::diffuse_share);
  return {Ratio::of(p.value), Ratio::of(p.uncertainty)};
}
Estimate<Length> Calibration::opening() const {
  const Fitted& p = of(Parameter::opening);
  return {Length::from_value(p.value), Length::from_value(p.uncertainty)};
}

Result<Calibration> calibrate(const plan::Plan& plan, const plan::Strip& strip) {
  const plan::Cathode& cathode = *plan::cathode(plan.chamber, strip.cathode.value);
  const StripModel model(plan, strip, Range{});
  const Known known = known_from(cathode);
  const Solved solved = fit_strip(model, strip, known);
  Calibration out;
  out.cathode = cathode.name.value;
  out.strip = strip.name.value;
  fill_parameters(out, solved, known);
  fill_fit(out, solved, model, strip);
  out.budget = budget_of(solved.fit, solved.problem);
  out.next = next_strips(plan, strip, solved.fit.parameters);
  out.state = state_of(plan, strip, out);
  out.assumed = assumptions(cathode, solved);
  out.block = block_text(plan, strip, out);
  Diagnostics findings;
  say_how_it_fits(out, strip, findings);
  say_what_is_not_told(out, strip, findings);
  sort_by_place(findings);
  return Result<Calibration>(std::move(out), std::move(findings));
}

}  // namespace vacuary::calibrate
