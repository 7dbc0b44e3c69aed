// Film quality as JSON, predicted and found.
#include "report/json_words.hpp"

namespace vacuary::report {

Json heating_json(const model::Heating& h) {
  const Unit& kelvin = unit("K", Kind::temperature_difference);
  return Json{{"heat", quantity(h.heat, unit("J/m2", Kind::heat_density))},
              {"front", quantity(h.front, kelvin)},
              {"back", quantity(h.back, kelvin)},
              {"pass", quantity(h.pass, kelvin)},
              {"depth", quantity(h.depth, unit("mm", Kind::length))},
              {"known_to_factor", h.known_to > 0 ? finite(h.known_to) : Json(nullptr)},
              {"from", h.from}};
}

Json residual_json(const model::ResidualGas& r) {
  const Unit& plain = unit("ratio", Kind::ratio);
  return Json{{"water", quantity(r.water, unit("Pa", Kind::pressure))},
              {"per_turn", estimate(r.per_turn, plain)},
              {"in_beam", estimate(r.in_beam, plain)},
              {"known_to_factor", finite(r.known_to())},
              {"assumed", r.assumed}};
}

Json reflectance_json(const model::FilmReflectance& r) {
  const Unit& nm = unit("nm", Kind::length);
  return Json{{"wavelength", quantity(r.wavelength, nm)},
              {"low", finite(r.low.value())},
              {"high", finite(r.high.value())},
              {"spread_known", r.spread_known},
              {"scattered", finite(r.scattered.value())},
              {"opaque_from", r.opaque_from ? quantity(*r.opaque_from, nm) : Json(nullptr)},
              {"sources", r.sources},
              {"assumed", r.assumed}};
}

namespace {

Json cleans(const std::vector<run::CleanFound>& all) {
  const Unit& seconds = unit("s", Kind::duration);
  const Unit& pa = unit("Pa", Kind::pressure);
  Json out = Json::array();
  for (const run::CleanFound& c : all) {
    Json one{{"step", c.step},
             {"burnt", quantity(c.burnt, seconds)},
             {"dose_at_most_c_per_m2", finite(c.dose.value())},
             {"charges_per_molecule_of_a_layer", finite(c.layers)}};
    one["pressure"] = c.pressure ? quantity(*c.pressure, pa) : Json(nullptr);
    one["strikes_from"] = c.strike && c.strike->lowest ? quantity(*c.strike->lowest, pa) : Json(nullptr);
    one["strikes_to"] = c.strike && c.strike->highest ? quantity(*c.strike->highest, pa) : Json(nullptr);
    one["to_film"] = c.to_film ? quantity(*c.to_film, seconds) : Json(nullptr);
    one["allowed"] = c.allowed ? quantity(*c.allowed, seconds) : Json(nullptr);
    out.push_back(std::move(one));
  }
  return out;
}

Json measured(const std::vector<run::ReflectanceMeasured>& all) {
  Json out = Json::array();
  for (const run::ReflectanceMeasured& r : all) {
    Json one{{"wavelength", quantity(r.wavelength, unit("nm", Kind::length))},
             {"value", estimate(r.value, unit("ratio", Kind::ratio))},
             {"place", r.place},
             {"date", r.date}};
    one["wanted"] = r.wanted ? finite(r.wanted->value()) : Json(nullptr);
    one["met"] = r.wanted ? Json(run::name(r.met)) : Json(nullptr);
    one["predicted"] = r.predicted ? reflectance_json(*r.predicted) : Json(nullptr);
    one["as_clean"] = r.predicted ? Json(run::name(r.as_clean)) : Json(nullptr);
    out.push_back(std::move(one));
  }
  return out;
}

}  // namespace

Json quality_json(const run::FilmQuality& q) {
  const Unit& seconds = unit("s", Kind::duration);
  const Unit& volt = unit("V", Kind::voltage);
  const Unit& kwh = unit("kWh", Kind::energy);
  const Unit& mbar = unit("mbar", Kind::pressure);
  const Unit& degrees = unit("deg", Kind::angle);
  Json out;
  out["conditioning"] = Json::array();
  for (const run::Conditioning& c : q.conditioning) {
    out["conditioning"].push_back({{"step", c.step},
                                   {"first", quantity(c.first, volt)},
                                   {"last", quantity(c.last, volt)},
                                   {"calibrated", quantity(c.calibrated, volt)},
                                   {"drift", quantity(c.drift, unit("V/min", Kind::voltage_rate))},
                                   {"burnt", quantity(c.burnt, seconds)},
                                   {"said", c.said}});
  }
  out["cleans"] = cleans(q.cleans);
  out["residual_gas"] = nullptr;
  if (q.residual) {
    Json r = residual_json(q.residual->film);
    r["before"] = quantity(q.residual->before, mbar);
    r["after"] = q.residual->after ? quantity(*q.residual->after, mbar) : Json(nullptr);
    r["allowed"] = q.residual->allowed ? finite(q.residual->allowed->value()) : Json(nullptr);
    r["spans"] = Json::array();
    for (const run::WaterSpan& s : q.residual->spans) {
      r["spans"].push_back({{"step", s.step},
                            {"from", to_rfc3339(s.from)},
                            {"to", to_rfc3339(s.to)},
                            {"per_turn", finite(s.per_turn.value())}});
    }
    out["residual_gas"] = std::move(r);
  }
  out["waiting"] = nullptr;
  if (q.waiting) {
    out["waiting"] = {{"usual", quantity(q.waiting->usual, seconds)},
                      {"longest", quantity(q.waiting->longest, seconds)},
                      {"from", q.waiting->angle_logged ? quantity(q.waiting->from, degrees) : Json(nullptr)},
                      {"to", q.waiting->angle_logged ? quantity(q.waiting->to, degrees) : Json(nullptr)},
                      {"usual_layers", finite(q.waiting->usual_layers)},
                      {"longest_layers", finite(q.waiting->longest_layers)},
                      {"said", q.waiting->said}};
  }
  out["heating"] = Json::array();
  for (const run::Heated& h : q.heated) {
    Json one{{"step", h.step}};
    one.update(heating_json(h.heating));
    out["heating"].push_back(std::move(one));
  }
  out["targets"] = Json::array();
  for (const run::TargetLife& t : q.targets) {
    out["targets"].push_back({{"cathode", t.cathode},
                              {"before", quantity(t.before, kwh)},
                              {"used", quantity(t.used, kwh)},
                              {"rated", quantity(t.rated, kwh)},
                              {"by_counter", t.by_counter}});
  }
  out["reflectance"] = Json::array();
  for (const run::ReflectanceFound& r : q.reflectance) {
    Json one = reflectance_json(r.predicted);
    one["wanted"] = finite(r.wanted.value());
    one["can_be"] = run::name(r.can);
    out["reflectance"].push_back(std::move(one));
  }
  out["reflectance_measured"] = measured(q.measured);
  return out;
}

}  // namespace vacuary::report
