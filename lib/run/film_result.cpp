// From sums to the film of the run: parts, uncertainty budget (JCGM 100), and whether a thickness
// may be claimed at all.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "run/film.hpp"
#include "run/on_optic.hpp"

namespace vacuary::run {
namespace {

// How much of the film's energy may have gone in outside the calibrated voltage band: ramps and
// restarts, not a target that was not conditioned.
constexpr double allowed_outside = 0.03;
// How much of the film's energy may have gone elsewhere behind a shutter that nobody saw.
constexpr double allowed_unseen = 0.05;
// What film laid outside the band may be off by, at most (common practice: 5 to 30 % thin).
constexpr double outside_off_by = 0.30;
// What oxide may cost of the film per volt by which it lowers the voltage, at most: 80 to 150 V low go with
// films 5 to 30 % thin (common practice).
constexpr double oxide_costs_per_v = 0.30 / 80;
constexpr double settled_to_v = 0.5;    // nearer than this to where it comes to rest, a voltage has settled
constexpr double other_pressure = 0.2;  // relative; moves the voltage by some percent (common practice)

double sum_of(const FilmMeter& meter, const Sum FilmSums::*member) {
  Sum total;
  for (const FilmSums& step : meter.steps()) total.add((step.*member).value());
  total.add((meter.stray().*member).value());
  return total.value();
}

struct Inputs {
  std::vector<model::BudgetLine> lines;
  double total_m;

  void add(std::string input, double standard, double contribution_m) {
    double relative = total_m > 0 ? contribution_m / total_m : 0;
    if (std::isnan(relative)) relative = 1;  // what could not be worked out is not nothing
    if (relative <= 1e-6) return;
    lines.push_back({std::move(input), Ratio::of(standard), Ratio::of(relative), Ratio{}});
  }
  void share_out() {
    double variance = 0;
    for (const model::BudgetLine& line : lines)
      variance += line.contribution.value() * line.contribution.value();
    for (model::BudgetLine& line : lines) {
      line.share = Ratio::of(line.contribution.value() * line.contribution.value() / variance);
    }
    std::stable_sort(lines.begin(), lines.end(),
                     [](const auto& a, const auto& b) { return a.share > b.share; });
  }
  [[nodiscard]] double combined() const {
    double variance = 0;
    for (const model::BudgetLine& line : lines)
      variance += line.contribution.value() * line.contribution.value();
    return std::sqrt(variance);
  }
};

void add_model_inputs(const FilmMeter& meter, Inputs& inputs) {
  std::vector<std::pair<std::string, Sum>> merged;
  const auto merge = [&](const FilmSums& step) {
    for (const auto& [name, sum] : step.inputs) {
      const std::string wanted = name;
      auto at =
          std::find_if(merged.begin(), merged.end(), [&](const auto& one) { return one.first == wanted; });
      if (at == merged.end()) at = merged.insert(at, {wanted, Sum{}});
      at->second.add(sum.value());
    }
  };
  for (const FilmSums& step : meter.steps()) merge(step);
  merge(meter.stray());
  for (const auto& [name, sum] : merged) inputs.add(name, sum.value() / inputs.total_m, sum.value());
}

// Two estimates of one energy, compared over the same intervals: relative difference to the power's.
std::optional<double> difference(double other_j, double power_j) {
  if (!(power_j > 0)) return std::nullopt;
  return other_j / power_j - 1;
}

// How well the supplies read their power, relative: readings of one may all be off the same way.
double meter_uncertainty(const std::vector<const CathodeRoles*>& cathodes) {
  double u = 0;
  for (const CathodeRoles* one : cathodes) u = std::max(u, one->supply->power_accuracy.value.value());
  return u;
}

constexpr const char* area_input = "mean over the clear area (shape of the film)";

// Relative; cathodes' shapes are independent, and the one with the most film has the most to say.
double area_uncertainty(const FilmMeter& meter) {
  double most = 0, u = 0;
  for (std::size_t i = 0; i < meter.doses().size(); ++i) {
    const double film = meter.doses()[i].total().value();
    const Estimate<Ratio> mean = meter.area_mean(static_cast<int>(i));
    if (film <= most) continue;
    most = film;
    u = mean.standard_uncertainty.value() / mean.value.value();
  }
  return u;
}

// What the rest of the oxide may have cost of the film that was laid before the voltage stood, m. The film
// is taken as metal's at the lower voltage, of which the same energy lays more by about a third of the
// relative difference (yields go like V^(2/3)); so that this is between nothing and both together.
double settling_m(const FilmMeter& meter) {
  double per_v = 0;
  for (const CathodeRoles* one : meter.roles_of_film())
    per_v = std::max(per_v, oxide_costs_per_v + 1 / (3 * one->cathode->calibration.voltage.value.value()));
  double most_m = 0;
  for (const FilmSums& step : meter.steps()) {
    const double below_v = step.settling.mean_below_v();
    if (below_v > settled_to_v) most_m += per_v * below_v * step.film.value();
  }
  return most_m / std::sqrt(3.0);
}

Inputs inputs_of(const FilmMeter& meter, double total_m) {
  Inputs inputs{{}, total_m};
  add_model_inputs(meter, inputs);
  const double meter_u = meter_uncertainty(meter.roles_of_film());
  inputs.add("power as the supply reads it", meter_u, meter_u * total_m);
  const double pressure_m = sum_of(meter, &FilmSums::pressure_reading);
  inputs.add("working pressure as read", pressure_m / total_m, pressure_m);
  const double sampling = std::sqrt(sum_of(meter, &FilmSums::sampling_variance));
  inputs.add("power between the samples", sampling / total_m, sampling);
  const double gaps =
      std::hypot(std::sqrt(sum_of(meter, &FilmSums::gap_variance)), sum_of(meter, &FilmSums::gap_alike));
  inputs.add("gaps and frozen readings in the film", gaps / total_m, gaps);
  const auto counter =
      difference(sum_of(meter, &FilmSums::counter), sum_of(meter, &FilmSums::counter_beside));
  if (counter) {
    const double u = std::abs(*counter) / std::sqrt(12.0);
    inputs.add("energy counter against power", u, u * total_m);
  }
  const double outside = sum_of(meter, &FilmSums::outside_band) / sum_of(meter, &FilmSums::energy);
  const double outside_u = outside * outside_off_by / std::sqrt(3.0);
  inputs.add("film outside the calibrated voltage band", outside_off_by / std::sqrt(3.0),
             outside_u * total_m);
  const double oxide_m = settling_m(meter);
  inputs.add("target still settling inside the voltage band", oxide_m / total_m, oxide_m);
  const double area_u = area_uncertainty(meter);
  inputs.add(area_input, area_u, area_u * total_m);
  inputs.share_out();
  return inputs;
}

FilmPart part_of(const FilmSums& sums, const std::string& name, const FilmMeter& meter, double relative_u) {
  FilmPart part;
  part.step = name;
  const double energy_j = sums.energy.value();
  const double meter_u = meter_uncertainty(meter.roles_of_film());
  const double kappa = energy_j > 0 ? sums.film.value() / energy_j : 0;
  const double unseen =
      kappa > 0 ? std::hypot(std::sqrt(sums.gap_variance.value() + sums.sampling_variance.value()),
                             sums.gap_alike.value()) /
                      kappa
                : 0;
  part.energy = {Energy::from_value(energy_j), Energy::from_value(std::hypot(meter_u * energy_j, unseen))};
  part.thickness = {Length::from_value(sums.film.value()),
                    Length::from_value(relative_u * sums.film.value())};
  // Scaled to the whole, since intervals without a reading or with a moving shutter count for neither.
  const double counter_beside = sums.counter_beside.value();
  if (counter_beside > 0)
    part.energy_counter = Energy::from_value(sums.counter.value() * energy_j / counter_beside);
  const double beside = sums.volt_ampere_beside.value();
  if (beside > 0) part.volt_ampere_energy = Energy::from_value(sums.volt_ampere.value() * energy_j / beside);
  if (sums.voltage_energy.value() > 0) {
    part.mean_voltage = Voltage::from_value(sums.voltage_weighted.value() / sums.voltage_energy.value());
  }
  if (sums.pressure_energy.value() > 0) {
    part.mean_pressure = Pressure::from_value(sums.pressure_weighted.value() / sums.pressure_energy.value());
  }
  if (sums.angle.value() > 0) part.turns = Count::of(sums.angle.value() / (2 * 3.14159265358979323846));
  part.outside_band = Ratio::of(energy_j > 0 ? sums.outside_band.value() / energy_j : 0);
  return part;
}

double extreme(const FilmMeter& meter, double FilmSums::*member, double (*pick)(double, double)) {
  double value = no_value;
  for (const FilmSums& step : meter.steps()) value = pick(value, step.*member);
  return value;
}

std::string out_of_band(const std::vector<const CathodeRoles*>& cathodes, const FilmMeter& meter,
                        double outside) {
  const plan::Calibration& c = cathodes.front()->cathode->calibration;
  const bool alone = cathodes.size() == 1;
  std::string why = fmt::format(
      "the cathode voltage was outside the calibrated {} for {:.1f} % of the film's energy (it ran from "
      "{:.0f} to "
      "{:.0f} V; at most {:.0f} % may be outside). Energy alone would say {:.1f} nm, which rests on no "
      "calibration",
      alone ? fmt::format("{:.0f} V +/- {:.0f} V", c.voltage.value.value(), c.voltage_band.value.value())
            : "bands of its cathodes",
      100 * outside, extreme(meter, &FilmSums::lowest_v, std::fmin),
      extreme(meter, &FilmSums::highest_v, std::fmax), 100 * allowed_outside,
      sum_of(meter, &FilmSums::film) * 1e9);
  const double times = sum_of(meter, &FilmSums::outside_pressure) / sum_of(meter, &FilmSums::outside_band) /
                       c.pressure.value.value();
  if (alone && std::abs(times - 1) > other_pressure) {
    why += fmt::format(
        ". The pressure was then {:.2g} times the calibrated: that moves the voltage by itself, and its "
        "share cannot "
        "be told from an oxidised target's",
        times);
  }
  return why;
}

// Empty: a thickness may be claimed. Every cathode that laid film has its say.
std::string why_not_claimed(const plan::Plan& plan, const Roles& roles, const FilmMeter& meter) {
  const std::vector<const CathodeRoles*> cathodes = meter.roles_of_film();
  if (roles.cathodes.empty() || cathodes.empty()) return "the recipe names no cathode";
  std::string voltages;
  for (const CathodeRoles* cathode : cathodes) {
    const std::string& supply = cathode->supply->name.value;
    voltages += fmt::format("{}{}.voltage", voltages.empty() ? "" : " or ", supply);
    if (cathode->power < 0 && (cathode->voltage < 0 || cathode->current < 0)) {
      return fmt::format(
          "the log has neither {0}.power nor both {0}.voltage and {0}.current: no energy can be said",
          supply);
    }
  }
  const double energy_j = sum_of(meter, &FilmSums::energy);
  if (meter.unseen_j() > allowed_unseen * energy_j) {
    return fmt::format(
        "the cathode took {} in rows of no step of the recipe while the log does not say how the shutter "
        "stood: film "
        "may have been laid by it. If an empty cell means \"as before\", state mode = \"on_change\" under "
        "[logging] "
        "in the channel map",
        brief(Energy::from_value(meter.unseen_j()), unit("kWh", Kind::energy)));
  }
  if (!(energy_j > 0))
    return "the log shows no power with the shutter open: no film was laid, as far as it shows";
  for (const CathodeRoles* cathode : cathodes) {
    if (cathode->voltage >= 0) continue;
    return fmt::format(
        "the log has no {}.voltage, and power and energy look the same over a clean and an oxidised target",
        cathode->supply->name.value);
  }
  const double blind = sum_of(meter, &FilmSums::without_voltage) / energy_j;
  if (blind > allowed_outside) {
    return fmt::format("{} has no value for {:.1f} % of the film's energy (at most {:.0f} % may be missing)",
                       voltages, 100 * blind, 100 * allowed_outside);
  }
  const double outside = sum_of(meter, &FilmSums::outside_band) / energy_j;
  if (outside > allowed_outside) return out_of_band(cathodes, meter, outside);
  // Shield, target and gas: does the calibration speak of these cathodes at all?
  std::string gas;
  for (const plan::Step& step : plan.recipe.steps) {
    if (step.kind != plan::StepKind::sputter || step.gas.empty()) continue;
    const plan::GasLine* line = plan::gas_line(plan.chamber, step.gas.front().line.value);
    if (line != nullptr) gas = line->gas.value;
  }
  for (const CathodeRoles* cathode : cathodes) {
    const plan::Calibration& c = cathode->cathode->calibration;
    const model::FilmPerEnergy there =
        model::film_per_energy(plan.chamber, *cathode->cathode, c.voltage.value, c.pressure.value,
                               cathode->cathode->energy_used.value, gas);
    if (!there.claimable) return there.why_not;
  }
  return "";
}

void assume(Film& film, const Roles& roles, const FilmMeter& meter) {
  const std::vector<const CathodeRoles*> cathodes = meter.roles_of_film();
  for (const CathodeRoles* one : cathodes) {
    const plan::Calibration& c = one->cathode->calibration;
    const std::string of = cathodes.size() > 1 ? fmt::format(" of cathode {}", one->cathode->name.value) : "";
    film.assumed.push_back(
        fmt::format("film per energy{} {} as calibrated on {} (standard uncertainty {:.1f} %), carried to "
                    "each row's voltage, "
                    "pressure and target wear",
                    of, brief(c.film_per_energy.value, c.film_per_energy.unit), c.date.value,
                    100 * c.uncertainty.value.value()));
    film.assumed.push_back(
        fmt::format("the mean over the clear area{} is {:.4f} times the film at the calibration's radius of "
                    "{}, by the geometry of "
                    "cathode, shield and glass in the plan files",
                    of, meter.area_mean(static_cast<int>(one - roles.cathodes.data())).value.value(),
                    brief(c.radius.value, c.radius.unit)));
  }
  if (!meter.shutter_logged()) {
    film.assumed.emplace_back(
        "the shutter was open during every sputter step and shut otherwise (its channel is not logged)");
  }
  for (const std::string& text : meter.assumed()) film.assumed.push_back(text);
  for (const std::string& text : meter.doubts()) film.assumed.push_back("doubtful: " + text);
}

}  // namespace

Film film_of(const plan::Plan& plan, const Roles& roles, const FilmMeter& meter, const std::string& lost) {
  Film film;
  if (!lays_film(plan)) return film;
  film.wanted = plan.optic->film.thickness.value;
  film.tolerance = plan.optic->film.tolerance.value;
  film.why_not = lost.empty() ? why_not_claimed(plan, roles, meter) : lost;
  film.claimed = film.why_not.empty();
  if (meter.roles_in_use() == nullptr) return film;
  const double total_m = sum_of(meter, &FilmSums::film);
  if (!(total_m > 0)) return film;
  const Inputs inputs = inputs_of(meter, total_m);
  for (std::size_t s = 0; s < meter.steps().size(); ++s) {
    if (meter.steps()[s].energy.value() > 0) {
      film.parts.push_back(
          part_of(meter.steps()[s], plan.recipe.steps[s].name.value, meter, inputs.combined()));
    }
  }
  if (meter.stray().film.value() > 0.001 * total_m) {
    film.parts.push_back(part_of(meter.stray(), "outside the sputter steps", meter, inputs.combined()));
    film.parts.back().planned = false;
  }
  assume(film, roles, meter);
  if (!film.claimed) return film;
  film.budget = inputs.lines;
  film.mean = {Length::from_value(total_m), Length::from_value(inputs.combined() * total_m)};
  // The map has the shape's part of the uncertainty itself.
  double scale = inputs.combined() * inputs.combined() - std::pow(area_uncertainty(meter), 2);
  film.on_optic = on_optic(plan, meter, Ratio::of(std::sqrt(std::max(scale, 0.0))), film.parts);
  return film;
}

}  // namespace vacuary::run
