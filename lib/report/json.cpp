// Everything the program says to other programs: report.json, findings, SARIF. The one file of this
// room that knows the JSON library.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

using Json = nlohmann::ordered_json;

// JSON has no infinities and no NaN; a number that is none of ours becomes null, never 0.
Json finite(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

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

Json budget(const std::vector<model::BudgetLine>& lines) {
  Json out = Json::array();
  for (const model::BudgetLine& line : lines) {
    out.push_back({{"input", line.input},
                   {"relative_standard_uncertainty", finite(line.standard_uncertainty.value())},
                   {"relative_contribution", finite(line.contribution.value())},
                   {"share_of_variance", finite(line.share.value())}});
  }
  return out;
}

// -------------------------------------------------------------- account

Json figure(const run::Figure& f) {
  // Figures carry SI; the unit says how a person reads them.
  const auto shown = [&](double si) { return finite(si / f.unit.factor - f.unit.offset); };
  return Json{{"channel", f.channel.name()},
              {"unit", f.unit.symbol},
              {"minimum", shown(f.minimum_si)},
              {"maximum", shown(f.maximum_si)},
              {"mean", shown(f.mean_si)},
              {"last", shown(f.last_si)},
              {"integral_si_s", finite(f.integral_si_s)},
              {"good_samples", f.good},
              {"bad_samples", f.bad}};
}

Json step(const run::StepAccount& s) {
  Json out{{"name", s.step}, {"kind", plan::name(s.kind)}, {"found", s.found}};
  out["start"] = s.found ? Json(to_rfc3339(s.start)) : Json(nullptr);
  out["end"] = s.found ? Json(to_rfc3339(s.end)) : Json(nullptr);
  const Unit& seconds = unit("s", Kind::duration);
  out["planned"] = estimate(s.planned, seconds);
  out["actual"] = s.found ? quantity(s.actual, seconds) : Json(nullptr);
  out["ended_by"] = s.ended_by;
  out["gaps"] = quantity(s.gaps, seconds);
  out["figures"] = Json::array();
  for (const run::Figure& f : s.figures) out["figures"].push_back(figure(f));
  return out;
}

template <class Q>
Json spread(const model::Spread<Q>& s, const Unit& unit) {
  return Json{{"value", finite(in(s.value, unit))},
              {"unit", unit.symbol},
              {"low", finite(in(s.low, unit))},
              {"high", finite(in(s.high, unit))}};
}

Json degrees(Angle angle) { return finite(in(angle, unit("deg", Kind::angle))); }

Json sector(const model::FilmSector& s) {
  return Json{{"from_degrees", degrees(s.from)},
              {"to_degrees", degrees(s.to)},
              {"depth", quantity(s.depth, unit("nm", Kind::length))},
              {"worst_at_degrees", degrees(s.worst_at)},
              {"worst_at_radius", quantity(s.radius, unit("m", Kind::length))}};
}

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

Json film_map(const model::FilmMap& map) {
  Json out{{"mean", quantity(map.mean, unit("nm", Kind::length))},
           {"thinnest", extreme(map.thinnest)},
           {"thickest", extreme(map.thickest)},
           {"rms", finite(map.rms.value())},
           {"peak_to_valley", spread(map.peak_to_valley, unit("ratio", Kind::ratio))},
           {"area_in_tolerance", finite(map.area_in_tolerance.value())},
           {"mass", quantity(map.mass, unit("g", Kind::mass))}};
  out["sectors"] = Json::array();
  for (const model::FilmSector& s : map.sectors) out["sectors"].push_back(sector(s));
  out["shape_inputs"] = Json::array();
  for (const model::ShapeInput& input : map.shape) {
    out["shape_inputs"].push_back({{"input", input.input},
                                   {"mean_change", finite(input.mean_change.value())},
                                   {"inner_edge_change", finite(input.inner_change.value())},
                                   {"outer_edge_change", finite(input.outer_change.value())}});
  }
  out["grid"] = grid(map);
  return out;
}

Json on_optic(const run::OnOptic& film) {
  const Unit& g = unit("g", Kind::mass);
  Json out = film_map(film.map);
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

Json deviation(const run::Deviation& d) {
  const Unit& nm = unit("nm", Kind::length);
  const auto number = [](const std::optional<double>& value) {
    return value ? finite(*value) : Json(nullptr);
  };
  return Json{{"rule", d.rule},
              {"severity", name(d.severity)},
              {"origin", run::name(d.origin)},
              {"step", d.step},
              {"channel", d.channel},
              {"start", to_rfc3339(d.start)},
              {"end", to_rfc3339(d.end)},
              {"line", d.line},
              {"worst", number(d.worst)},
              {"limit", number(d.limit)},
              {"unit", d.unit.symbol},
              {"integral_beyond_limit", number(d.integral)},
              {"effect", d.effect},
              {"mean_change", estimate(d.mean_change, nm)},
              {"local_change", estimate(d.local_change, nm)},
              {"sector", d.sector ? sector(*d.sector) : Json(nullptr)},
              {"advice", d.advice}};
}

Json film(const run::Film& f) {
  const Unit& nm = unit("nm", Kind::length);
  const Unit& kwh = unit("kWh", Kind::energy);
  Json out{{"claimed", f.claimed}, {"why_not", f.why_not}};
  out["mean_thickness"] = f.claimed ? estimate(f.mean, nm, f.coverage_factor) : Json(nullptr);
  out["wanted"] = quantity(f.wanted, nm);
  out["tolerance"] = quantity(f.tolerance, nm);
  out["budget"] = budget(f.budget);
  out["parts"] = Json::array();
  for (const run::FilmPart& part : f.parts) {
    Json one{{"step", part.step}, {"energy", estimate(part.energy, kwh)}};
    one["thickness"] = f.claimed ? estimate(part.thickness, nm) : Json(nullptr);
    one["energy_counter"] = part.energy_counter ? quantity(*part.energy_counter, kwh) : Json(nullptr);
    one["volt_ampere_energy"] =
        part.volt_ampere_energy ? quantity(*part.volt_ampere_energy, kwh) : Json(nullptr);
    one["mean_pressure"] =
        part.mean_pressure ? quantity(*part.mean_pressure, unit("Pa", Kind::pressure)) : Json(nullptr);
    one["turns"] = part.turns ? finite(part.turns->value()) : Json(nullptr);
    one["energy_share_outside_voltage_band"] = finite(part.outside_band.value());
    one["planned"] = part.planned;
    one["mean_voltage"] =
        part.mean_voltage ? quantity(*part.mean_voltage, unit("V", Kind::voltage)) : Json(nullptr);
    out["parts"].push_back(std::move(one));
  }
  out["assumed"] = f.assumed;
  out["on_optic"] = f.on_optic ? on_optic(*f.on_optic) : Json(nullptr);
  return out;
}

void add_health(const run::VacuumHealth& v, Json& out) {
  const Unit& flow = unit("mol/s", Kind::flow);
  const Unit& speed = unit("L/s", Kind::pumping_speed);
  const Unit& mbar = unit("mbar", Kind::pressure);
  const Unit& seconds = unit("s", Kind::duration);
  const Unit& plain = unit("ratio", Kind::ratio);
  out["rises_together"] = nullptr;
  if (v.rises_together) {
    const run::RisesTogether& both = *v.rises_together;
    out["rises_together"] = {{"first", both.first},
                             {"second", both.second},
                             {"origin", both.origin},
                             {"leak", estimate(both.leak, flow)},
                             {"leak_bound_95", quantity(both.leak_at_most, flow)}};
  }
  out["speeds"] = Json::array();
  for (const run::EffectiveSpeed& s : v.speeds) {
    out["speeds"].push_back({{"step", s.step},
                             {"how", s.how},
                             {"high_vacuum", s.high_vacuum},
                             {"found", estimate(s.found, speed)},
                             {"expected", estimate(s.expected, speed)},
                             {"pressure_growth_at_same_flow", estimate(s.growth, plain)}});
  }
  out["pulses"] = Json::array();
  for (const run::TurnPulse& p : v.pulses) {
    out["pulses"].push_back(
        {{"step", p.step},
         {"turns", finite(p.turns.value())},
         {"height_over_pressure", finite(p.height.value())},
         {"inflow", estimate(p.inflow, flow)},
         {"at", quantity(p.at, unit("deg", Kind::angle))},
         {"at_rest_over_between_pulses", p.standing ? finite(p.standing->value()) : Json(nullptr)}});
  }
  out["walls"] = nullptr;
  if (v.walls) {
    out["walls"] = {{"load_at_1h", estimate(v.walls->at_1h, flow)},
                    {"over_chamber_file", estimate(v.walls->over_plan, plain)},
                    {"exponent", finite(v.walls->exponent.value())},
                    {"floor", quantity(v.walls->floor, mbar)},
                    {"floor_at_least", quantity(v.walls->floor_at_least, mbar)},
                    {"floor_begins", v.walls->opened ? quantity(*v.walls->opened, seconds) : Json(nullptr)}};
  }
  out["against_normal"] = Json::array();
  for (const run::Comparison& c : v.against_normal) {
    out["against_normal"].push_back({{"what", c.what},
                                     {"found", c.found},
                                     {"normal", c.normal},
                                     {"ratio", estimate(c.ratio, plain)},
                                     {"from_history", c.from_history},
                                     {"unusual", c.unusual}});
  }
  out["verdicts"] = Json::array();
  for (const run::HealthVerdict& h : v.verdicts) {
    out["verdicts"].push_back(
        {{"what", h.what}, {"said", h.said}, {"evidence", h.evidence}, {"advice", h.advice}});
  }
}

Json heating(const model::Heating& h) {
  const Unit& kelvin = unit("K", Kind::temperature_difference);
  return Json{{"heat", quantity(h.heat, unit("J/m2", Kind::heat_density))},
              {"front", quantity(h.front, kelvin)},
              {"back", quantity(h.back, kelvin)},
              {"pass", quantity(h.pass, kelvin)},
              {"depth", quantity(h.depth, unit("mm", Kind::length))},
              {"known_to_factor", h.known_to > 0 ? finite(h.known_to) : Json(nullptr)},
              {"from", h.from}};
}

Json residual(const model::ResidualGas& r) {
  const Unit& plain = unit("ratio", Kind::ratio);
  return Json{{"water", quantity(r.water, unit("Pa", Kind::pressure))},
              {"per_turn", estimate(r.per_turn, plain)},
              {"in_beam", estimate(r.in_beam, plain)},
              {"known_to_factor", finite(r.known_to())},
              {"assumed", r.assumed}};
}

Json reflectance(const model::FilmReflectance& r) {
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

Json quality(const run::FilmQuality& q) {
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
    Json r = residual(q.residual->film);
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
    one.update(heating(h.heating));
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
    Json one = reflectance(r.predicted);
    one["wanted"] = finite(r.wanted.value());
    one["can_be"] = run::name(r.can);
    out["reflectance"].push_back(std::move(one));
  }
  return out;
}

Json vacuum(const run::VacuumHealth& v) {
  const Unit& seconds = unit("s", Kind::duration);
  Json out;
  out["base_pressure"] = estimate(v.base_pressure, unit("mbar", Kind::pressure));
  out["time_to_base"] = v.time_to_base ? quantity(*v.time_to_base, seconds) : Json(nullptr);
  out["pumpdowns"] = Json::array();
  for (const run::PowerLaw& law : v.pumpdowns) {
    out["pumpdowns"].push_back(
        {{"channel", law.channel},
         {"zero", to_rfc3339(law.zero)},
         {"zero_is", law.zero_is},
         {"from", quantity(law.from, seconds)},
         {"to", quantity(law.to, seconds)},
         {"exponent", finite(law.exponent.value.value())},
         {"exponent_expanded_uncertainty", finite(2 * law.exponent.standard_uncertainty.value())},
         {"coverage_factor", 2.0},
         {"samples", law.samples}});
  }
  out["rises"] = Json::array();
  for (const run::RateOfRise& rise : v.rises) {
    out["rises"].push_back(
        {{"step", rise.step},
         {"rate", estimate(rise.rate, unit("Pa/s", Kind::pressure_rate))},
         {"steady", estimate(rise.steady, unit("Pa/s", Kind::pressure_rate))},
         {"saturates", rise.saturates ? quantity(*rise.saturates, seconds) : Json(nullptr)},
         {"shape", rise.shape},
         {"leak_at_most", estimate(rise.leak_at_most, unit("mol/s", Kind::flow))},
         {"leak_bound_95", quantity(rise.leak_bound, unit("mol/s", Kind::flow))},
         {"reading", rise.reading}});
  }
  add_health(v, out);
  out["vent"] = v.vent ? Json{{"start", to_rfc3339(v.vent->start)}, {"seen", v.vent->seen}} : Json(nullptr);
  return out;
}

Json log_summary(const run::Account& account) {
  Json out{{"files", account.log_files},
           {"rows", account.log.rows},
           {"start", to_rfc3339(account.log.start)},
           {"end", to_rfc3339(account.log.end)},
           {"period", quantity(account.log.period, unit("s", Kind::duration))},
           {"steps_from", account.steps_from},
           {"missing_channels", account.missing},
           {"unmapped_columns", account.unmapped},
           {"notes", account.notes}};
  out["oddities"] = Json::array();
  for (std::size_t i = 0; i < account.log.count.size(); ++i) {
    if (account.log.count[i] == 0) continue;
    const auto what = static_cast<log::Oddity>(i);
    Json first = Json::array();
    for (const log::Event& event : account.log.first) {
      if (event.what != what) continue;
      first.push_back({{"line", event.line},
                       {"last_line", event.last_line},
                       {"from", to_rfc3339(event.from)},
                       {"to", to_rfc3339(event.to)},
                       {"detail", event.detail}});
    }
    out["oddities"].push_back(
        {{"what", log::name(what)}, {"count", account.log.count[i]}, {"first", std::move(first)}});
  }
  return out;
}

// -------------------------------------------------------------- findings

Json place(const Place& p) {
  return Json{{"file", p.file}, {"line", p.line}, {"column", p.column}, {"width", p.width}};
}

Json finding(const Diagnostic& d) {
  Json out{{"severity", name(d.severity)}, {"rule", d.rule}, {"message", d.message}};
  out["where"] = d.where ? place(*d.where) : Json(nullptr);
  if (d.second) {
    out["second"] = place(d.second->place);
    out["second"]["label"] = d.second->label;
  }
  out["found"] = d.found;
  out["bound"] = d.bound;
  out["assumed"] = d.assumed;
  out["remedy"] = d.remedy;
  return out;
}

Json predicted_step(const model::StepPrediction& s) {
  Json out{{"step", s.step}};
  out["duration"] = estimate(s.duration, unit("s", Kind::duration));
  out["duration_why"] = s.duration_why;
  out["end_pressure"] = estimate(s.end_pressure, unit("mbar", Kind::pressure));
  out["working_pressure"] = estimate(s.working_pressure, unit("Pa", Kind::pressure));
  out["energy"] = estimate(s.energy, unit("kWh", Kind::energy));
  out["film"] = estimate(s.film, unit("nm", Kind::length));
  out["residual_gas"] = s.residual ? residual(*s.residual) : Json(nullptr);
  out["heating"] = s.heating ? heating(*s.heating) : Json(nullptr);
  out["clean_dose_at_most_c_per_m2"] = s.clean_dose ? finite(s.clean_dose->value()) : Json(nullptr);
  out["since_clean"] = estimate(s.since_clean, unit("s", Kind::duration));
  out["assumed"] = s.assumed;
  return out;
}

Json predicted(const model::Prediction& p) {
  Json out;
  out["film"] = estimate(p.film, unit("nm", Kind::length));
  out["film_budget"] = budget(p.film_budget);
  out["total"] = estimate(p.total, unit("s", Kind::duration));
  out["reflectance"] = Json::array();
  for (const model::FilmReflectance& r : p.reflectance) out["reflectance"].push_back(reflectance(r));
  out["steps"] = Json::array();
  for (const model::StepPrediction& s : p.steps) out["steps"].push_back(predicted_step(s));
  return out;
}

// -------------------------------------------------------------- SARIF

// A path as a URI reference (RFC 3986): relative stays relative, what is not unreserved is escaped.
std::string uri(const std::string& path) {
  constexpr const char* hex = "0123456789ABCDEF";
  std::string out = path.starts_with('/') ? "file://" : "";
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       std::string_view("-._~/").find(c) != std::string_view::npos;
    if (plain) {
      out += c;
    } else {
      out += {'%', hex[byte >> 4U], hex[byte & 15U]};
    }
  }
  return out;
}

Json sarif_location(const Place& p) {
  Json physical{{"artifactLocation", {{"uri", uri(p.file)}}}};
  if (p.line != 0) {
    Json region{{"startLine", p.line}};
    if (p.column != 0) {
      region["startColumn"] = p.column;
      region["endColumn"] = p.column + p.width;
    }
    if (!p.line_text.empty()) region["snippet"] = {{"text", p.line_text}};
    physical["region"] = std::move(region);
  }
  return Json{{"physicalLocation", std::move(physical)}};
}

std::string sarif_message(const Diagnostic& d) {
  std::string text = d.message;
  if (!d.found.empty()) text += "; found: " + d.found;
  if (!d.bound.empty()) text += "; bound: " + d.bound;
  for (const std::string& clause : d.assumed) text += "; assumed: " + clause;
  if (!d.remedy.empty()) text += "; remedy: " + d.remedy;
  return text;
}

Json sarif_result(const Diagnostic& d) {
  Json result{{"ruleId", d.rule}, {"level", name(d.severity)}, {"message", {{"text", sarif_message(d)}}}};
  if (d.where) result["locations"] = Json::array({sarif_location(*d.where)});
  if (d.second) {
    Json related = sarif_location(d.second->place);
    related["id"] = 1;
    related["message"] = {{"text", d.second->label}};
    result["relatedLocations"] = Json::array({std::move(related)});
  }
  return result;
}

Json sarif_rules(const Diagnostics& findings) {
  Json rules = Json::array();
  for (const check::Rule& rule : check::rules()) {
    const bool used = std::any_of(findings.begin(), findings.end(),
                                  [&](const Diagnostic& d) { return d.rule == rule.name; });
    if (!used) continue;
    rules.push_back({{"id", rule.name},
                     {"shortDescription", {{"text", rule.summary}}},
                     {"fullDescription", {{"text", rule.explanation}}},
                     {"defaultConfiguration", {{"level", name(rule.severity)}}}});
  }
  return rules;
}

std::string dumped(const Json& json) {
  // User text was checked to be UTF-8 where it is read; a log may still hold anything.
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

std::string account_json(const run::Account& account) {
  Json out{{"format", "vacuary-report 1"},
           {"verdict", run::name(account.verdict)},
           {"reasons", account.reasons},
           {"recipe", {{"name", account.recipe}, {"revision", account.revision}, {"author", account.author}}},
           {"chamber", account.chamber},
           {"optic", account.optic}};
  out["film"] = account.film.wanted.value() > 0 ? film(account.film) : Json(nullptr);
  out["steps"] = Json::array();
  for (const run::StepAccount& s : account.steps) out["steps"].push_back(step(s));
  out["deviations"] = Json::array();
  for (const run::Deviation& d : account.deviations) out["deviations"].push_back(deviation(d));
  out["vacuum"] = vacuum(account.vacuum);
  out["quality"] = quality(account.quality);
  out["log"] = log_summary(account);
  out["safety"] = account.safety;
  return dumped(out);
}

std::string findings_json(const Diagnostics& findings, const plan::Plan* plan,
                          const model::Prediction* prediction) {
  Json out{{"format", "vacuary-findings 1"}};
  if (plan != nullptr) {
    out["recipe"] = {{"name", plan->recipe.name.value}, {"revision", plan->recipe.revision.value}};
  }
  out["findings"] = Json::array();
  for (const Diagnostic& d : findings) out["findings"].push_back(finding(d));
  if (prediction != nullptr) out["prediction"] = predicted(*prediction);
  return dumped(out);
}

std::string findings_sarif(const Diagnostics& findings, const std::string& version) {
  Json results = Json::array();
  for (const Diagnostic& d : findings) results.push_back(sarif_result(d));
  const Json driver{{"name", "vacuary"}, {"semanticVersion", version}, {"rules", sarif_rules(findings)}};
  const Json run{
      {"tool", {{"driver", driver}}}, {"columnKind", "unicodeCodePoints"}, {"results", std::move(results)}};
  return dumped(Json{{"$schema", "https://json.schemastore.org/sarif-2.1.0.json"},
                     {"version", "2.1.0"},
                     {"runs", Json::array({run})}});
}

}  // namespace vacuary::report
