// Where the film lies, as JSON; predicted and found.
#include <algorithm>
#include <cmath>

#include "report/json_words.hpp"

namespace vacuary::report {
namespace {

template <class Q>
Json spread(const model::Spread<Q>& s, const Unit& unit) {
  return Json{{"value", finite(in(s.value, unit))},
              {"unit", unit.symbol},
              {"low", finite(in(s.low, unit))},
              {"high", finite(in(s.high, unit))}};
}

Json degrees(Angle angle) { return finite(in(angle, unit("deg", Kind::angle))); }

Json extreme(const model::FilmExtreme& e) {
  return Json{{"thickness", spread(e.thickness, unit("nm", Kind::length))},
              {"radius", quantity(e.radius, unit("m", Kind::length))},
              {"angle_degrees", degrees(e.angle)}};
}

// Rings and angles thinned out: enough to draw, to fit, and to compare with a measurement.
Json grid(const model::FilmMap& map) {
  const std::size_t ring_step = std::max<std::size_t>(1, map.radii / 32);
  const std::size_t angle_step = std::max<std::size_t>(1, map.angles / 180);
  Json rows = Json::array(), radii = Json::array();
  for (std::size_t i = ring_step / 2; i < map.radii; i += ring_step) {
    Json row = Json::array();
    for (std::size_t j = 0; j < map.angles; j += angle_step) {
      row.push_back(finite(std::round(map.thickness_m[i * map.angles + j] * 1e11) / 100));
    }
    rows.push_back(std::move(row));
    radii.push_back(finite(map.radius_m[i]));
  }
  return Json{
      {"radius_m", std::move(radii)},
      {"angle_step_degrees", 360.0 * static_cast<double>(angle_step) / static_cast<double>(map.angles)},
      {"thickness_nm", std::move(rows)}};
}

}  // namespace

Json budget_json(const std::vector<model::BudgetLine>& lines) {
  Json out = Json::array();
  for (const model::BudgetLine& line : lines) {
    out.push_back({{"input", line.input},
                   {"relative_standard_uncertainty", finite(line.standard_uncertainty.value())},
                   {"relative_contribution", finite(line.contribution.value())},
                   {"share_of_variance", finite(line.share.value())}});
  }
  return out;
}

Json sector_json(const model::FilmSector& s) {
  return Json{{"from_degrees", degrees(s.from)},
              {"to_degrees", degrees(s.to)},
              {"depth", quantity(s.depth, unit("nm", Kind::length))},
              {"worst_at_degrees", degrees(s.worst_at)},
              {"worst_at_radius", quantity(s.radius, unit("m", Kind::length))}};
}

Json film_map_json(const model::FilmMap& map) {
  Json out{{"mean", quantity(map.mean, unit("nm", Kind::length))},
           {"thinnest", extreme(map.thinnest)},
           {"thickest", extreme(map.thickest)},
           {"rms", finite(map.rms.value())},
           {"peak_to_valley", spread(map.peak_to_valley, unit("ratio", Kind::ratio))},
           {"area_in_tolerance", finite(map.area_in_tolerance.value())},
           {"mass", quantity(map.mass, unit("g", Kind::mass))}};
  out["sectors"] = Json::array();
  for (const model::FilmSector& s : map.sectors) out["sectors"].push_back(sector_json(s));
  out["shape_inputs"] = Json::array();
  for (const model::ShapeInput& input : map.shape) {
    out["shape_inputs"].push_back({{"input", input.input},
                                   {"mean_change", finite(input.mean_change.value())},
                                   {"inner_edge_change", finite(input.inner_change.value())},
                                   {"outer_edge_change", finite(input.outer_change.value())}});
  }
  return out;
}

Json on_optic_json(const run::OnOptic& film) {
  const Unit& g = unit("g", Kind::mass);
  Json out = film_map_json(film.map);
  out["grid"] = grid(film.map);
  out["angles"] = {{"from", film.fiducial},
                   {"sense", film.sense},
                   {"read_from", film.angles_from},
                   {"expanded_uncertainty_degrees", degrees(expanded(film.mark))}};
  out["uniformity_wanted"] = film.uniformity_wanted ? finite(film.uniformity_wanted->value()) : Json(nullptr);
  out["mass_balance"] = nullptr;
  if (film.mass) {
    out["mass_balance"] = {{"on_optic", estimate(film.mass->on_optic, g)},
                           {"from_target", estimate(film.mass->from_target, g)},
                           {"share", finite(film.mass->share.value())},
                           {"expected_share", finite(film.mass->expected.value())},
                           {"density", quantity(film.mass->density, unit("kg/m3", Kind::mass_density))}};
  }
  return out;
}

}  // namespace vacuary::report
