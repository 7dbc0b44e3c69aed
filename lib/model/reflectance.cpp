// The reflectance that a film as the optic file describes it can have, by published constants.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "model/quality.hpp"
#include "physics/physics.hpp"

namespace vacuary::model {
namespace {

// The substrate hardly matters under an opaque film; this is a borosilicate glass in visible light.
constexpr physics::Index glass{1.47, 0};
constexpr double models_from_m = 250e-9, models_to_m = 6e-6;
// Where aluminium's published tables are too coarse for the dip near 830 nm. The one model that resolves
// it and the tables lie this far apart there (R near 850 nm: 0.858 to 0.870).
constexpr double dip_from_m = 670e-9, dip_to_m = 1000e-9, doubt = 0.01;

struct Constants {
  std::vector<physics::NamedIndex> all;
  bool doubted = false;  // one source speaks, and is taken to be good to `doubt`
};

Constants constants_of(const std::string& metal, Length wavelength) {
  Constants c{physics::published_constants(metal, wavelength), false};
  const bool dip = metal == "Al" && wavelength.value() > dip_from_m && wavelength.value() < dip_to_m;
  // The model of silver smooths and reads up to three points low: a measured film speaks where there is one.
  const bool silver = metal == "Ag" && c.all.size() > 1;
  if (silver) c.all.erase(c.all.begin());
  if (dip && !c.all.empty()) c.all.resize(1);
  c.doubted = dip || silver;
  return c;
}

// The layers over the metal, in the order in which the light meets them; false: one has no constants.
bool layers_above(const plan::Film& film, Length wavelength, std::vector<physics::Layer>& out) {
  for (auto coat = film.overcoats.rbegin(); coat != film.overcoats.rend(); ++coat) {
    const std::vector<physics::NamedIndex> known =
        physics::published_constants(coat->material.value, wavelength);
    if (known.empty()) return false;
    out.push_back({known.front().index, coat->thickness.value});
  }
  if (film.overcoats.empty() && film.native_oxide)
    out.push_back({physics::native_oxide, film.native_oxide->value});
  return true;
}

std::vector<std::string> assumptions(const plan::Film& film) {
  std::vector<std::string> out;
  const Unit& nm = unit("nm", Kind::length);
  for (const plan::Film::Overcoat& coat : film.overcoats) {
    out.push_back(fmt::format("{} of {} over it, as dense as bulk", brief(coat.thickness.value, nm),
                              coat.material.value));
  }
  if (film.overcoats.empty()) {
    out.push_back(film.native_oxide
                      ? fmt::format("{} of oxide on it, index {:.3g} (assumed)",
                                    brief(film.native_oxide->value, nm), physics::native_oxide.n)
                      : std::string("without oxide"));
  }
  out.push_back(film.roughness ? fmt::format("{} rms rough, and what that scatters taken off",
                                             brief(film.roughness->value, nm))
                               : std::string("smooth"));
  out.push_back(fmt::format("on glass of index {:.3g}", glass.n));
  return out;
}

}  // namespace

std::optional<FilmReflectance> film_reflectance(const plan::Optic& optic, Length thickness,
                                                Length wavelength) {
  const plan::Film& film = optic.film;
  if (wavelength.value() < models_from_m || wavelength.value() > models_to_m) return std::nullopt;
  const Constants metals = constants_of(film.material.value, wavelength);
  std::vector<physics::Layer> above;
  if (metals.all.empty() || !layers_above(film, wavelength, above)) return std::nullopt;
  FilmReflectance out;
  out.wavelength = wavelength;
  if (film.roughness) out.scattered = physics::specular_loss(film.roughness->value, wavelength);
  double low = 1, high = 0;
  for (const physics::NamedIndex& metal : metals.all) {
    std::vector<physics::Layer> layers = above;
    layers.push_back({metal.index, thickness});
    const double r =
        physics::stack(layers, glass, wavelength).reflectance.value() * (1 - out.scattered.value());
    low = std::min(low, r);
    high = std::max(high, r);
    out.sources.emplace_back(metal.source);
  }
  out.assumed = assumptions(film);
  if (metals.doubted) {
    low -= doubt;
    high = std::min(high + doubt, 1.0);
    out.assumed.emplace_back("one source speaks there, taken to be good to a point either way");
  }
  out.spread_known = metals.all.size() > 1 || metals.doubted;
  out.low = Ratio::of(low);
  out.high = Ratio::of(high);
  out.opaque_from = physics::opaque_thickness(metals.all.front().index, glass, wavelength);
  return out;
}

}  // namespace vacuary::model
