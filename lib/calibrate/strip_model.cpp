#include "calibrate/strip_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "physics/physics.hpp"

namespace vacuary::calibrate {
namespace {

constexpr std::size_t angles = 720;       // of a turn: the mean is good to 1e-5
constexpr double p0d0_uncertainty = 0.3;  // of its logarithm; common practice when it was never measured

std::vector<double> chebyshev(double low, double high, std::size_t n) {
  std::vector<double> nodes;
  for (std::size_t i = 0; i < n; ++i) {
    const double angle = std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(n);
    nodes.push_back((low + high) / 2 - (high - low) / 2 * std::cos(angle));
  }
  return nodes;
}

// Lagrange's weights of the nodes at x.
std::vector<double> weights_at(const std::vector<double>& nodes, double x) {
  std::vector<double> weights(nodes.size(), 1);
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    for (std::size_t j = 0; j < nodes.size(); ++j) {
      if (j != i) weights[i] *= (x - nodes[j]) / (nodes[i] - nodes[j]);
    }
  }
  return weights;
}

physics::TrimShield wider(physics::TrimShield shield, double by_m) {
  for (physics::ShieldOpening& point : shield.opening)
    point.width = Length::from_value(std::max(point.width.value() + by_m, 0.0));
  return shield;
}

// Radii of the places with the shield in, or without it.
std::vector<Length> radii_of(const std::vector<StripPlace>& places, bool shielded) {
  std::vector<Length> radii;
  for (const StripPlace& place : places) {
    if (place.shielded == shielded) radii.push_back(place.radius);
  }
  return radii;
}

double transport(double pressure_pa, double throw_m, double p0d0_pa_m) {
  return physics::transported_share(Pressure::from_value(pressure_pa), Length::from_value(throw_m),
                                    PressureLength::from_value(p0d0_pa_m))
      .value();
}

const plan::Cathode& cathode_of(const plan::Plan& plan, const plan::Strip& strip) {
  return *plan::cathode(plan.chamber, strip.cathode.value);
}

// How far the film of a part turn may lie off the mean: some angles got one pass more than others.
double part_turn(double turns) {
  const double part = turns - std::floor(turns);
  return std::sqrt(part * (1 - part)) / turns;
}

std::vector<StripPlace> places_of(const plan::Strip& strip, const Layout& layout) {
  std::vector<StripPlace> places;
  for (const plan::Exposure& exposure : strip.exposures) {
    for (const plan::StripPoint& point : exposure.points)
      places.push_back({point.radius.value, !exposure.shield.value.empty()});
  }
  places.push_back({layout.reference, layout.reference_shielded});
  return places;
}

Layout layout_of(const plan::Plan& plan, const plan::Strip& strip) {
  Layout layout(cathode_of(plan, strip), *plan.optic);
  layout.reference_shielded = !strip.exposures[stated_exposure(strip)].shield.value.empty();
  return layout;
}

}  // namespace

std::size_t stated_exposure(const plan::Strip& strip) {
  for (std::size_t i = 0; i < strip.exposures.size(); ++i) {
    if (!strip.exposures[i].shield.value.empty()) return i;
  }
  return 0;
}

Layout::Layout(const plan::Cathode& cathode, const plan::Optic& optic)
    : surface(model::coated_surface(optic)),
      track(model::racetrack(cathode)),
      shield(model::trim_shield(cathode)),
      reference(cathode.calibration.radius.value),
      reference_shielded(cathode.shield_height.has_value()) {}

TurnMeans turn_means(const Layout& layout, const std::vector<StripPlace>& places, double exponent,
                     double opening_m) {
  const auto source = elements(layout.track, layout.surface);
  TurnMeans out;
  out.straight.resize(places.size());
  out.scattered.resize(places.size());
  for (const bool shielded : {false, true}) {
    const std::vector<Length> radii = radii_of(places, shielded);
    if (radii.empty()) continue;
    const physics::TrimShield shield = shielded ? wider(layout.shield, opening_m) : physics::TrimShield{};
    const auto straight =
        turn_means_per_m2(source, Ratio::of(exponent), layout.surface, shield, radii, angles);
    const auto scattered = turn_means_per_m2(scattered_elements(layout.track, shield, layout.surface),
                                             Ratio::of(1), layout.surface, {}, radii, angles / 4);
    std::size_t next = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
      if (places[i].shielded != shielded) continue;
      out.straight[i] = straight[next];
      out.scattered[i] = scattered[next++];
    }
  }
  return out;
}

TurnTable::TurnTable(const Layout& layout, const std::vector<StripPlace>& places, const Range& range)
    : exponent_(chebyshev(range.lowest_exponent, range.highest_exponent, range.exponents)) {
  // Without a shield, or where one is narrower than the range, less is looked at.
  double narrowest = 1;
  for (const physics::ShieldOpening& point : layout.shield.opening)
    narrowest = std::min(narrowest, point.width.value());
  const bool shielded = !layout.shield.opening.empty();
  opening_m_ = chebyshev(std::max(range.opening_from_m, -0.8 * narrowest), range.opening_to_m,
                         shielded ? range.openings : 1);
  for (const double exponent : exponent_) {
    for (const double opening : opening_m_) nodes_.push_back(turn_means(layout, places, exponent, opening));
  }
}

double TurnTable::straight(std::size_t place, double exponent, double opening_m) const {
  const std::vector<double> by_exponent = weights_at(exponent_, exponent);
  const std::vector<double> by_opening = weights_at(opening_m_, opening_m);
  double sum = 0;
  for (std::size_t i = 0; i < by_exponent.size(); ++i) {
    for (std::size_t j = 0; j < by_opening.size(); ++j)
      sum += by_exponent[i] * by_opening[j] * nodes_[i * by_opening.size() + j].straight[place];
  }
  return sum;
}

double TurnTable::scattered(std::size_t place, double opening_m) const {
  const std::vector<double> by_opening = weights_at(opening_m_, opening_m);
  double sum = 0;
  for (std::size_t j = 0; j < by_opening.size(); ++j) sum += by_opening[j] * nodes_[j].scattered[place];
  return sum;
}

StripModel::StripModel(const plan::Plan& plan, const plan::Strip& strip, const Range& range)
    : cathode_(&cathode_of(plan, strip)),
      layout_(layout_of(plan, strip)),
      places_(places_of(strip, layout_)),
      table_(layout_, places_, range) {
  const plan::Supply* supply = plan::supply(plan.chamber, cathode_->supply.value);
  held_.push_back(
      {"energy as the supply reads it", supply != nullptr ? supply->power_accuracy.value.value() : 0});
  held_.push_back({"scale of the thickness gauge", strip.gauge_uncertainty.value.value()});
  add_shots(plan, strip, stated_exposure(strip));
  first_shaping_ = held_.size();
  held_.push_back({"throw as built", cathode_->throw_uncertainty.value.value()});
  held_.push_back({"inner end of the racetrack", cathode_->racetrack_uncertainty.value.value()});
  held_.push_back({"outer end of the racetrack", cathode_->racetrack_uncertainty.value.value()});
  held_.push_back({"height of the shield", cathode_->shield_height_uncertainty.value.value()});
  const bool one_pressure = std::all_of(shots_.begin(), shots_.end(), [&](const Shot& shot) {
    return std::abs(shot.pressure_pa / stated_pa_ - 1) < 0.02;
  });
  held_.push_back({"transport (p0d0)", one_pressure ? 0 : p0d0_uncertainty});
  find_sensitivities();
}

void StripModel::add_shots(const plan::Plan& plan, const plan::Strip& strip, std::size_t stated_for) {
  // Voltage and wear of each exposure against those of the one the calibration is stated for.
  plan::Cathode stated = *cathode_;
  const auto used = [](const plan::Exposure& e) { return e.energy_used.value + 0.5 * e.energy.value; };
  const plan::Exposure& at = strip.exposures[stated_for];
  stated_pa_ = at.pressure.value.value();
  stated.calibration.pressure = at.pressure;
  stated.calibration.voltage = at.voltage;
  stated.calibration.energy_used.value = used(at);
  std::size_t place = 0;
  for (const plan::Exposure& exposure : strip.exposures) {
    Shot shot;
    shot.energy_j = exposure.energy.value.value();
    shot.pressure_pa = exposure.pressure.value.value();
    shot.factor = model::film_per_energy(plan.chamber, stated, exposure.voltage.value, at.pressure.value,
                                         used(exposure))
                      .value.value /
                  stated.calibration.film_per_energy.value;
    shot.held = held_.size();
    const double repeat = strip.energy_repeat.value.value();
    held_.push_back({exposure.name.value.empty()
                         ? fmt::format("energy of exposure {} by itself", shots_.size() + 1)
                         : fmt::format("energy of '{}' by itself", exposure.name.value),
                     std::hypot(repeat, part_turn(exposure.turns.value.value()))});
    for (std::size_t i = 0; i < exposure.points.size(); ++i) rows_.push_back({shots_.size(), place++});
    shots_.push_back(shot);
  }
}

template <class Straight, class Scattered>
double StripModel::shape(const Row& row, double share, double throw_m, double p0d0, Straight straight,
                         Scattered scattered) const {
  const std::size_t reference = places_.size() - 1;
  const double eta = transport(shots_[row.shot].pressure_pa, throw_m, p0d0);
  const double stated = transport(stated_pa_, throw_m, p0d0);
  const double flown = eta * straight(row.place) / straight(reference);
  const double strayed = (1 - eta) * share * scattered(row.place) / scattered(reference);
  return (flown + strayed) / (stated + (1 - stated) * share);
}

// By one standard uncertainty, at the chamber file's exponent, share and opening.
void StripModel::find_sensitivities() {
  const double exponent = cathode_->emission_exponent.value.value();
  const double share = std::max(cathode_->calibration.diffuse_share.value.value(), 0.05);
  const double throw_m = layout_.track.throw_distance.value();
  const double p0d0 = cathode_->p0d0.value.value();
  const auto shapes = [&](const Layout& layout, double distance_m, double p0d0_pa_m) {
    const TurnMeans means = turn_means(layout, places_, exponent, 0);
    std::vector<double> out;
    for (const Row& row : rows_) {
      out.push_back(std::log(shape(
          row, share, distance_m, p0d0_pa_m, [&](std::size_t i) { return means.straight[i]; },
          [&](std::size_t i) { return means.scattered[i]; })));
    }
    return out;
  };
  const std::vector<double> built = shapes(layout_, throw_m, p0d0);
  sensitivity_.assign(rows_.size(), {});
  for (std::size_t k = first_shaping_; k < held_.size(); ++k) {
    const double by = held_[k].uncertainty;
    std::vector<double> other = built;
    if (by > 0) {
      Layout moved = layout_;
      const std::size_t which = k - first_shaping_;
      if (which == 0) moved.track.throw_distance += Length::from_value(by);
      if (which == 1) moved.track.inner += Length::from_value(by);
      if (which == 2) moved.track.outer += Length::from_value(by);
      if (which == 3) moved.shield.height += Length::from_value(by);
      other = shapes(moved, which == 0 ? throw_m + by : throw_m, which == 4 ? p0d0 * std::exp(by) : p0d0);
    }
    for (std::size_t i = 0; i < rows_.size(); ++i)
      sensitivity_[i].push_back(by > 0 ? (other[i] - built[i]) / by : 0);
  }
}

std::vector<double> StripModel::film_m(const std::vector<double>& p) const {
  const double throw_m = layout_.track.throw_distance.value();
  const double p0d0 = cathode_->p0d0.value.value();
  const std::size_t held = 4;
  std::vector<double> straight, scattered;
  for (std::size_t i = 0; i < places_.size(); ++i) {
    straight.push_back(table_.straight(i, p[1], p[3]));
    scattered.push_back(table_.scattered(i, p[3]));
  }
  std::vector<double> film;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const Shot& shot = shots_[rows_[i].shot];
    double off = p[held] + p[held + 1] + p[held + shot.held];
    for (std::size_t k = first_shaping_; k < held_.size(); ++k)
      off += sensitivity_[i][k - first_shaping_] * p[held + k];
    film.push_back(p[0] * shot.energy_j * shot.factor * std::exp(off) *
                   shape(
                       rows_[i], p[2], throw_m, p0d0, [&](std::size_t k) { return straight[k]; },
                       [&](std::size_t k) { return scattered[k]; }));
  }
  return film;
}

}  // namespace vacuary::calibrate
