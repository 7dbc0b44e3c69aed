#include "run/estimates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "physics/physics.hpp"
#include "run/row.hpp"

namespace vacuary::run {
namespace {

// More witnesses than this count as one: their mean, no better known than the best of them.
constexpr std::size_t most_witnesses = 10;
constexpr double beside_optic = 0.03;     // a witness beside the clear area: standard, relative
constexpr double nowhere_known = 0.05;    // of a witness when there is no map: standard, relative
constexpr double not_modelled = 0.10;     // of what reaches the glass of a weighed loss: standard, relative
constexpr double transport_known = 0.30;  // of p0d0, relative

struct Place {
  double over_mean = 1;  // film there over the mean
  double uncertainty = 0;
  std::string words;
};

// What one standard uncertainty of the geometry does at a share of the way from inner to outer edge, against
// the mean; straight between the edges.
double shape_uncertainty(const model::FilmMap& map, double share) {
  double variance = 0;
  for (const model::ShapeInput& input : map.shape) {
    const double edge = (1 - share) * input.inner_change.value() + share * input.outer_change.value();
    variance += std::pow(edge - input.mean_change.value(), 2);
  }
  return std::sqrt(variance);
}

Place place_of(const plan::MeasuredThickness& measured, const plan::Plan& plan, const Film& film) {
  if (!film.on_optic) return {1, nowhere_known, "the film's shape is not known: as the mean to 5 %"};
  const model::FilmMap& map = film.on_optic->map;
  const double mean_m = map.mean.value();
  const auto [low, high] = std::minmax_element(map.thickness_m.begin(), map.thickness_m.end());
  if (!measured.radius)
    return {1, (*high - *low) / mean_m / std::sqrt(12.0), "no radius is stated: anywhere on the clear area"};
  const double inner = plan.optic->inner_radius.value.value();
  const double outer = plan.optic->outer_radius.value.value();
  const double r = measured.radius->value.value();
  const double share = std::clamp((r - inner) / (outer - inner), 0.0, 1.0);
  const auto ring = std::min(static_cast<std::size_t>(share * static_cast<double>(map.radii)), map.radii - 1);
  const double* row = &map.thickness_m[ring * map.angles];
  double sum = 0, square = 0;
  for (std::size_t j = 0; j < map.angles; ++j) {
    sum += row[j];
    square += row[j] * row[j];
  }
  const double turn_m = sum / static_cast<double>(map.angles);
  Place place{turn_m / mean_m, shape_uncertainty(map, share), {}};
  if (measured.angle) {
    const double turns = measured.angle->value.value() / full_turn_rad;
    const auto step = static_cast<std::size_t>((turns - std::floor(turns)) * static_cast<double>(map.angles));
    place.over_mean = row[std::min(step, map.angles - 1)] / mean_m;
  } else {
    const double variance = square / static_cast<double>(map.angles) - turn_m * turn_m;
    place.uncertainty = std::hypot(place.uncertainty, std::sqrt(std::max(variance, 0.0)) / mean_m);
  }
  place.words = fmt::format("there the film is {:.4f} times its mean", place.over_mean);
  if (r >= inner && r <= outer) return place;
  place.uncertainty = std::hypot(place.uncertainty, beside_optic);
  place.words = "beside the clear area (3 % assumed for that); at its edge the film is " +
                fmt::format("{:.4f}", place.over_mean) + " times its mean";
  return place;
}

struct One {
  physics::NamedEstimate estimate;
  std::string how;
  bool measured = true;
};

Estimate<Length> relative(double value_m, double relative_u) {
  return {Length::from_value(value_m), Length::from_value(value_m * relative_u)};
}

void add_witnesses(const plan::Plan& plan, const std::vector<plan::Measured>& measured, const Film& film,
                   std::vector<One>& all) {
  std::vector<One> found;
  for (const plan::Measured& sheet : measured) {
    for (const plan::MeasuredThickness& t : sheet.thickness) {
      const Place place = place_of(t, plan, film);
      if (!(place.over_mean > 0)) continue;
      const double mean_m = t.value.value.value() / place.over_mean;
      const double u = std::hypot(t.uncertainty.value.value() / t.value.value.value(), place.uncertainty);
      One one{{t.place ? t.place->value : fmt::format("thickness {}", found.size() + 1), relative(mean_m, u)},
              fmt::format("{:.4g} nm measured; {}", t.value.value.value() * 1e9, place.words)};
      const auto same = [&](const One& other) { return other.estimate.name == one.estimate.name; };
      if (std::any_of(found.begin(), found.end(), same))
        one.estimate.name += fmt::format(" ({})", found.size() + 1);
      found.push_back(std::move(one));
    }
  }
  if (found.size() <= most_witnesses) {
    all.insert(all.end(), found.begin(), found.end());
    return;
  }
  std::vector<physics::NamedEstimate> list;
  for (const One& one : found) list.push_back(one.estimate);
  std::vector<double> values, uncertainties;
  for (const physics::NamedEstimate& e : list) {
    values.push_back(e.estimate.value.value());
    uncertainties.push_back(e.estimate.standard_uncertainty.value());
  }
  const double mean_m = physics::weighted_mean(values, uncertainties).mean;
  const double u_m = *std::min_element(uncertainties.begin(), uncertainties.end());
  all.push_back({{fmt::format("{} witnesses", found.size()), relative(mean_m, u_m / mean_m)},
                 "their weighted mean, no better known than the best of them"});
}

// How well the share of the target's loss that reaches the glass is known: emission law, transport and
// diffuse share moved by one standard uncertainty each, and what is not modelled (film that flies back to the
// target, the racetrack's turns).
double expected_share_uncertainty(const plan::Plan& plan, const plan::Cathode& cathode, Pressure pressure) {
  const auto share = [&](const plan::Cathode& one) {
    return model::collected_share(one, *plan.optic).value() * model::arriving_share(one, pressure).value();
  };
  const auto sum = [](Ratio a, Ratio b) { return Ratio::of(a.value() + b.value()); };
  const double usual = share(cathode);
  plan::Cathode moved = cathode;
  moved.emission_exponent.value =
      sum(cathode.emission_exponent.value, cathode.emission_exponent_uncertainty.value);
  const double by_emission = share(moved) - usual;
  moved = cathode;
  moved.p0d0.value = moved.p0d0.value * (1 + transport_known);
  const double by_transport = share(moved) - usual;
  moved = cathode;
  moved.calibration.diffuse_share.value =
      sum(cathode.calibration.diffuse_share.value, cathode.calibration.diffuse_share_uncertainty.value);
  const double by_diffuse = share(moved) - usual;
  return std::hypot(std::hypot(by_emission, by_transport, by_diffuse) / usual, not_modelled);
}

void add_target(const plan::Plan& plan, const std::vector<TargetLife>& targets,
                const std::vector<plan::Measured>& measured, const Film& film, std::vector<One>& all) {
  if (!film.on_optic || !film.on_optic->mass || film.parts.empty()) return;
  const MassBalance& balance = *film.on_optic->mass;
  const model::FilmMap& map = film.on_optic->map;
  const double m_per_kg = map.mean.value() / map.mass.value();
  double energy_j = 0, pressure = 0;
  for (const FilmPart& part : film.parts) {
    energy_j += part.energy.value.value();
    if (part.mean_pressure) pressure += part.mean_pressure->value() * part.energy.value.value();
  }
  bool weighed = false;
  for (const plan::Measured& sheet : measured) {
    for (const plan::MeasuredTarget& target : sheet.targets) {
      const plan::Cathode* cathode = plan::cathode(plan.chamber, target.cathode.value);
      const auto life = std::find_if(targets.begin(), targets.end(), [&](const TargetLife& one) {
        return one.cathode == target.cathode.value && one.used.value() > 0;
      });
      if (cathode == nullptr || life == targets.end()) continue;
      const double film_share = std::min(1.0, energy_j / life->used.value());
      const double pa = pressure > 0 ? pressure / energy_j : cathode->calibration.pressure.value.value();
      const double u = std::hypot(target.uncertainty.value.value() / target.lost.value.value(),
                                  expected_share_uncertainty(plan, *cathode, Pressure::from_value(pa)));
      const double mean_m = target.lost.value.value() * film_share * balance.expected.value() * m_per_kg;
      all.push_back(
          {{"target mass", relative(mean_m, u)},
           fmt::format("{:.4g} g weighed off, {:.0f} % of the target's energy with film on the "
                       "glass; geometry, shield and gas let {:.0f} % of that through (10 % assumed for what "
                       "that leaves out)",
                       target.lost.value.value() * 1e3, 100 * film_share, 100 * balance.expected.value())});
      weighed = true;
    }
  }
  if (weighed) return;
  const double mean_m = balance.from_target.value.value() * balance.expected.value() * m_per_kg;
  const double u = balance.from_target.standard_uncertainty.value() / balance.from_target.value.value();
  all.push_back({{"target mass", relative(mean_m, u)},
                 "by the sputter yield, good to 35 % with geometry and transport; nobody weighed the target",
                 false});
}

std::string disagreement(const ThicknessEstimates& e) {
  std::string out, others;
  std::size_t agreeing = 0;
  for (const ThicknessEstimate& one : e.each) {
    if (one.held.in_consistent_subset) {
      ++agreeing;
      continue;
    }
    others += fmt::format("{}'{}' ({:+.1f} nm)", others.empty() ? "" : ", ", one.held.name,
                          one.held.difference.value() * 1e9);
  }
  if (agreeing < 2) return "Which of them is wrong they cannot tell.";
  return fmt::format("Look into {}: without it the others agree on {:.1f} nm +/- {:.1f} nm.", others,
                     e.consistent_mean.value.value() * 1e9,
                     2 * e.consistent_mean.standard_uncertainty.value() * 1e9);
}

std::string said_of(const ThicknessEstimates& e) {
  if (e.each.size() < 2) return "There is one estimate only: nothing to hold it against.";
  const std::string test = fmt::format(
      "chi squared {:.2g} with {} degree{} of freedom, probability {:.2g} %, Birge ratio {:.2g}",
      e.chi_squared, e.each.size() - 1, e.each.size() == 2 ? "" : "s", 100 * e.probability, e.birge_ratio);
  if (e.consistent) return "They agree: " + test + ".";
  return fmt::format("They do not agree: {}. The uncertainty of the mean is widened by that ratio. {}", test,
                     disagreement(e));
}

}  // namespace

std::optional<Estimate<Length>> best_mean(const Film& film) {
  if (film.estimates && film.estimates->measured) return film.estimates->mean;
  if (film.claimed) return film.mean;
  return std::nullopt;
}

void bring_together(const plan::Plan& plan, const std::vector<TargetLife>& targets,
                    const std::vector<plan::Measured>& measured, Film& film) {
  film.estimates.reset();
  std::vector<One> all;
  if (film.claimed) all.push_back({{"energy", film.mean}, "film per energy times energy", false});
  for (const CrystalFilm& crystal : film.crystals) {
    if (!crystal.why_not.empty()) continue;
    all.push_back({{fmt::format("crystal '{}'", crystal.crystal), crystal.mean},
                   fmt::format("{:.5g} nm on the crystal, times its tooling factor and the mean over the "
                               "clear area; its frequency "
                               "taken to wander by 20 Hz",
                               crystal.on_crystal.value.value() * 1e9)});
  }
  add_witnesses(plan, measured, film, all);
  add_target(plan, targets, measured, film, all);
  const auto was_measured = [](const One& one) { return one.measured; };
  const bool any = std::any_of(all.begin(), all.end(), was_measured);
  if (all.size() < 2 && !any) return;
  std::vector<physics::NamedEstimate> list;
  for (const One& one : all) list.push_back(one.estimate);
  const physics::CombinedEstimates together = physics::combine_estimates(list);
  ThicknessEstimates out;
  for (std::size_t i = 0; i < all.size(); ++i)
    out.each.push_back({together.each[i], all[i].estimate.estimate, all[i].how});
  out.mean = together.mean;
  out.uncertainty_if_consistent = together.uncertainty_if_consistent;
  out.chi_squared = together.chi_squared;
  out.birge_ratio = together.birge_ratio;
  out.probability = together.probability;
  out.consistent = together.consistent;
  out.consistent_mean = together.consistent_mean;
  out.measured = any;
  out.said = said_of(out);
  film.estimates = std::move(out);
}

}  // namespace vacuary::run
