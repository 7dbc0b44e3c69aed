// What the JSON writers of this room share; the one header of ours that knows the JSON library, for the
// sources here only.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {

using Json = nlohmann::ordered_json;

// JSON has no infinities and no NaN; a number that is none of ours becomes null, never 0.
inline Json finite(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

template <class Q>
Json quantity(Q value, const Unit& unit) {
  return Json{{"value", finite(in(value, unit))}, {"unit", unit.symbol}};
}

template <class Q>
Json estimate(const Estimate<Q>& e, const Unit& unit, double coverage_factor = 2) {
  return Json{{"value", finite(in(e.value, unit))},
              {"unit", unit.symbol},
              {"expanded_uncertainty", finite(in(expanded(e, coverage_factor), unit))},
              {"coverage_factor", coverage_factor}};
}

template <class Q>
Json estimate(const std::optional<Estimate<Q>>& e, const Unit& unit) {
  return e ? estimate(*e, unit) : Json(nullptr);
}

inline std::string dumped(const Json& json) {
  // User text was checked to be UTF-8 where it is read; a log may still hold anything.
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

// Parts that others are made of (json_film.cpp, json_quality.cpp, json_vacuum.cpp).
[[nodiscard]] Json budget_json(const std::vector<model::BudgetLine>& lines);
[[nodiscard]] Json sector_json(const model::FilmSector& sector);
[[nodiscard]] Json film_map_json(const model::FilmMap& map);
[[nodiscard]] Json on_optic_json(const run::OnOptic& film);
[[nodiscard]] Json heating_json(const model::Heating& heating);
[[nodiscard]] Json residual_json(const model::ResidualGas& gas);
[[nodiscard]] Json reflectance_json(const model::FilmReflectance& reflectance);
[[nodiscard]] Json quality_json(const run::FilmQuality& quality);
[[nodiscard]] Json vacuum_json(const run::VacuumHealth& vacuum);

}  // namespace vacuary::report
