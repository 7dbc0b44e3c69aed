#include "rehearse/truth.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

namespace vacuary::rehearse {

namespace {

using Json = nlohmann::ordered_json;

constexpr double nm = 1e9;
constexpr double degrees = 180 / std::numbers::pi;

double rounded(double value, double quantum) {
  const double r = std::round(value / quantum) * quantum;
  // Through text, so that 0.30000000000000004 does not get into the file.
  return std::stod(fmt::format("{:.10g}", r));
}

std::string at(const Truth& truth, std::int64_t ms) {
  return to_rfc3339({truth.options->start.ns + ms * 1000000});
}

Json place_json(const FilmGrid::Place& place) {
  return {{"thickness_nm", rounded(place.thickness_m * nm, 0.001)},
          {"radius_m", rounded(place.radius_m, 0.0001)},
          {"angle_deg", rounded(place.angle_rad * degrees, 0.1)}};
}

Json parameters_json(const Truth& truth) {
  const Plant& plant = *truth.plant;
  const plan::Chamber& chamber = truth.plan->chamber;
  Json all = Json::object();
  for (std::size_t i = 0; i < chamber.cathodes.size(); ++i) {
    const CathodeTruth& c = plant.cathodes[i];
    const double kappa = chamber.cathodes[i].calibration.film_per_energy.value.value() * c.film_gain;
    all["cathodes"][chamber.cathodes[i].name.value] = {
        {"film_per_energy_nm_per_kwh", rounded(kappa * nm * 3.6e6, 1e-5)},
        {"throw_m", rounded(c.throw_m, 1e-6)},
        {"emission_exponent", rounded(c.exponent, 1e-5)},
        {"racetrack_inner_over_plan_m", rounded(c.racetrack_inner_m, 1e-6)},
        {"racetrack_outer_over_plan_m", rounded(c.racetrack_outer_m, 1e-6)},
        {"shield_opening_over_plan_m", rounded(c.shield_opening_m, 1e-6)},
        {"shield_height_over_plan_m", rounded(c.shield_height_m, 1e-6)},
        {"p0d0_gain", rounded(c.p0d0_gain, 1e-5)},
        {"voltage_gain", rounded(c.voltage_gain, 1e-6)},
        {"oxide_v", rounded(c.oxide_v, 0.01)},
        {"oxide_clears_s", rounded(c.oxide_s, 0.01)}};
  }
  for (std::size_t i = 0; i < chamber.gauges.size(); ++i) {
    all["gauges"][chamber.gauges[i].name.value] = {{"gain", rounded(plant.gauges[i].gain, 1e-6)},
                                                   {"zero_pa", rounded(plant.gauges[i].zero_pa, 1e-7)}};
  }
  for (std::size_t i = 0; i < chamber.gas_lines.size(); ++i) {
    all["gas_lines"][chamber.gas_lines[i].name.value] = {
        {"true_minus_shown_over_full_scale", rounded(plant.flow_error[i], 1e-7)}};
  }
  for (std::size_t i = 0; i < chamber.supplies.size(); ++i) {
    all["supplies"][chamber.supplies[i].name.value] = {
        {"power_meter_gain", rounded(plant.meter_gain[i], 1e-7)}};
  }
  for (std::size_t i = 0; i < chamber.surfaces.size(); ++i) {
    all["surfaces"][chamber.surfaces[i].name.value] = {
        {"outgassing_gain", rounded(plant.outgassing_gain[i], 1e-5)}};
  }
  all["leak_pa_m3_per_s"] = std::stod(fmt::format("{:.5g}", plant.leak_pa_m3_per_s));
  all["roughing_speed_gain"] = rounded(plant.roughing_gain, 1e-5);
  all["high_vacuum_speed_gain"] = rounded(plant.cryo_gain, 1e-5);
  all["encoder_offset_deg"] = rounded(plant.encoder_offset_rad * degrees, 1e-4);
  return all;
}

Json film_json(const FilmGrid& film) {
  Json json = {{"mean_nm", rounded(film.mean_m() * nm, 0.0001)},
               {"thinnest", place_json(film.thinnest())},
               {"thickest", place_json(film.thickest())}};
  return json;
}

Json steps_json(const Truth& truth) {
  Json steps = Json::array();
  for (std::size_t i = 0; i < truth.steps.size(); ++i) {
    const plan::Step& step = truth.plan->recipe.steps[i];
    steps.push_back({{"step", step.name.value},
                     {"kind", plan::name(step.kind)},
                     {"start", at(truth, truth.steps[i].start_ms)},
                     {"end", at(truth, truth.steps[i].end_ms)},
                     {"ended_by", truth.steps[i].why}});
  }
  return steps;
}

Json events_json(const Truth& truth) {
  Json events = Json::array();
  for (const Event& event : truth.events) {
    Json json = {{"fault", event.fault->kind->name},
                 {"nature", name(event.fault->kind->nature)},
                 {"settings", event.fault->given.settings},
                 {"counted_from_step", truth.plan->recipe.steps[event.fault->step].name.value}};
    json["start"] = event.start_ms ? Json(at(truth, *event.start_ms)) : Json();
    json["end"] = event.end_ms ? Json(at(truth, *event.end_ms)) : Json();
    Json effect = {{"mean_nm", 0.0}};
    if (event.change) {
      effect = {{"mean_nm", rounded(event.change->mean_m() * nm, 0.0001)},
                {"most_lost", place_json(event.change->thinnest())},
                {"most_gained", place_json(event.change->thickest())}};
    }
    // Nothing is said about an effect that nobody worked out.
    if (event.change || event.fault->kind->nature == Nature::log || truth.film == nullptr) {
      json["effect_on_film"] = effect;
    }
    events.push_back(json);
  }
  return events;
}

// One line of numbers per radius: a person can read it, and a diff shows where.
std::string map_text(const FilmGrid& film) {
  std::string text =
      "{\n    \"what\": \"thickness_nm[radius][angle]; angle k is 360 k / angles degrees from the "
      "fiducial\",\n";
  text += fmt::format("    \"angles\": {},\n    \"radius_m\": [", film.angles());
  for (std::size_t r = 0; r < film.radii_m().size(); ++r) {
    text += fmt::format("{}{:.10g}", r == 0 ? "" : ", ", rounded(film.radii_m()[r], 1e-5));
  }
  text += "],\n    \"thickness_nm\": [\n";
  for (std::size_t r = 0; r < film.radii_m().size(); ++r) {
    text += "      [";
    for (std::size_t a = 0; a < film.angles(); ++a) {
      text += fmt::format("{}{:.2f}", a == 0 ? "" : ",", film.at(r, a) * nm);
    }
    text += r + 1 < film.radii_m().size() ? "],\n" : "]\n";
  }
  return text + "    ]\n  }";
}

}  // namespace

std::string to_json(const Truth& truth) {
  Json json = {{"format", "vacuary-truth 1"},
               {"recipe", truth.plan->recipe.name.value},
               {"revision", truth.plan->recipe.revision.value},
               {"seed", truth.options->seed},
               {"start", to_rfc3339(truth.options->start)},
               {"parameters", parameters_json(truth)},
               {"steps", steps_json(truth)},
               {"events", events_json(truth)}};
  if (truth.film != nullptr) {
    json["film"] = film_json(*truth.film);
  }
  std::string text = json.dump(2, ' ', false, Json::error_handler_t::replace);
  if (truth.film != nullptr) {
    text.erase(text.rfind('}'));
    while (text.back() == '\n' || text.back() == ' ') {
      text.pop_back();
    }
    text += ",\n  \"map\": " + map_text(*truth.film) + "\n}";
  }
  return text + "\n";
}

}  // namespace vacuary::rehearse
