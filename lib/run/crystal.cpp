#include "run/crystal.hpp"

#include <fmt/format.h>

#include <cmath>

#include "physics/physics.hpp"
#include "physics/quartz.hpp"

namespace vacuary::run {
namespace {

constexpr double wander_hz = 20;        // of a frequency, with the crystal's temperature
constexpr double exchanged_hz = 500;    // up by more than this within a film: not the crystal it was
constexpr double deepest_load = 0.6;    // of the unloaded frequency: beyond it Z-match is no good
constexpr double z_uncertainty = 0.05;  // of a Z-ratio from a table, relative: thin films are no bulk metal
constexpr double others_share = 0.01;   // of the film, by cathodes that this crystal does not see

using Stretches = std::vector<std::pair<double, double>>;  // Hz before and after film

struct Load {
  double unloaded_hz, density, z;
  [[nodiscard]] double film_m(double loaded_hz, double z_factor = 1) const {
    return physics::crystal_thickness(Frequency::from_value(unloaded_hz), Frequency::from_value(loaded_hz),
                                      MassDensity::from_value(density), Ratio::of(z * z_factor))
        .value();
  }
  [[nodiscard]] double grown_m(const std::pair<double, double>& stretch, double z_factor = 1) const {
    return film_m(stretch.second, z_factor) - film_m(stretch.first, z_factor);
  }
};

int cathode_index(const Roles& roles, const plan::Cathode& cathode) {
  for (std::size_t i = 0; i < roles.cathodes.size(); ++i) {
    if (roles.cathodes[i].cathode == &cathode) return static_cast<int>(i);
  }
  return -1;
}

// Of the film on the optic, the share that other cathodes laid.
double laid_by_others(const FilmMeter& film, int cathode) {
  double own = 0, all = 0;
  for (std::size_t i = 0; i < film.doses().size(); ++i) {
    const double one = film.doses()[i].total().value();
    all += one;
    if (static_cast<int>(i) == cathode) own = one;
  }
  return all > 0 ? 1 - own / all : 0;
}

// Empty: the frequencies before and after film can be used.
std::string trouble_of(const Stretches& stretches, double unloaded_hz) {
  for (const auto& [before, after] : stretches) {
    if (std::isnan(after)) return "the log has no reading of it after the film";
    if (before > 1.001 * unloaded_hz) return "it swings faster than its unloaded frequency";
    if (after < deepest_load * unloaded_hz) return "it is loaded beyond the range of the Z-match";
    if (after >= before) return "its frequency did not fall while film was laid";
  }
  return {};
}

void weigh(const Stretches& stretches, const plan::Crystal& crystal, const physics::CrystalFilm& material,
           const Estimate<Ratio>& area, CrystalFilm& found) {
  const Load load{crystal.unloaded.value.value(), material.density_kg_per_m3,
                  crystal.z_ratio ? crystal.z_ratio->value.value() : material.z_ratio};
  double grown_m = 0, by_z_m = 0, wander2_m2 = 0;
  for (const auto& stretch : stretches) {
    grown_m += load.grown_m(stretch);
    by_z_m += load.grown_m(stretch, 1 + z_uncertainty) - load.grown_m(stretch);
    for (const double hz : {stretch.first, stretch.second})
      wander2_m2 += std::pow(load.film_m(hz - wander_hz) - load.film_m(hz), 2);
  }
  const double u_m = std::hypot(by_z_m, std::sqrt(wander2_m2));
  const double mean_m = grown_m * crystal.tooling.value.value() * area.value.value();
  const double relative = std::hypot(u_m / grown_m, crystal.tooling_uncertainty.value.value(),
                                     area.standard_uncertainty.value() / area.value.value());
  found.on_crystal = {Length::from_value(grown_m), Length::from_value(u_m)};
  found.mean = {Length::from_value(mean_m), Length::from_value(mean_m * relative)};
}

}  // namespace

CrystalMeter::CrystalMeter(const plan::Plan& plan, const log::Header& header) {
  for (const plan::Crystal& crystal : plan.chamber.crystals) {
    One one;
    one.crystal = &crystal;
    one.cathode = plan::cathode(plan.chamber, crystal.cathode.value);
    one.frequency = header.find({crystal.name.value, plan::What::frequency});
    if (one.frequency >= 0 && one.cathode != nullptr) crystals_.push_back(std::move(one));
  }
}

void CrystalMeter::laying_row(One& one, double hz, bool lays) {
  if (lays && !one.laying) {
    one.laying = true;
    one.start_hz = one.last_hz;
    if (std::isnan(one.start_hz)) one.trouble = "the log has no reading of it before the film";
  }
  if (std::isnan(hz)) return;
  if (one.laying && hz - one.last_hz > exchanged_hz)
    one.trouble = fmt::format("its frequency went up by {:.0f} Hz while film was laid", hz - one.last_hz);
  one.last_hz = hz;
  if (lays || !one.laying) return;
  one.laying = false;
  one.stretches.emplace_back(one.start_hz, hz);
}

void CrystalMeter::take(const Stretch& rows, const FilmMeter& film) {
  if (crystals_.empty()) return;
  for (const Row& row : rows) {
    const bool grown = row.film_m > film_m_;
    film_m_ = row.film_m;
    for (One& one : crystals_) {
      const bool seen = film.roles_in_use() != nullptr && film.roles_in_use()->cathode == one.cathode;
      laying_row(one, row.at(one.frequency), grown && seen);
    }
  }
}

std::vector<CrystalFilm> CrystalMeter::finish(const FilmMeter& film, const Roles& roles) const {
  std::vector<CrystalFilm> out;
  for (const One& one : crystals_) {
    Stretches stretches = one.stretches;
    if (one.laying) stretches.emplace_back(one.start_hz, one.last_hz);
    if (stretches.empty()) continue;
    CrystalFilm found;
    found.crystal = one.crystal->name.value;
    found.why_not = one.trouble;
    const int cathode = cathode_index(roles, *one.cathode);
    const physics::CrystalFilm* material = physics::find_crystal_film(one.cathode->material.value);
    if (material == nullptr)
      found.why_not = fmt::format("no density and Z-ratio of {} is known here", one.cathode->material.value);
    if (laid_by_others(film, cathode) > others_share)
      found.why_not = "a cathode that it does not see laid film too";
    if (found.why_not.empty()) found.why_not = trouble_of(stretches, one.crystal->unloaded.value.value());
    if (found.why_not.empty()) weigh(stretches, *one.crystal, *material, film.area_mean(cathode), found);
    out.push_back(std::move(found));
  }
  return out;
}

}  // namespace vacuary::run
