// report.json: the account of a run for programs.
#include <algorithm>
#include <cmath>

#include "report/json_words.hpp"

namespace vacuary::report {
namespace {

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

void add_file(Json& out, int file, const run::Account& account) {
  if (std::string name = file_of(file, account); !name.empty()) out["file"] = std::move(name);
}

Json deviation(const run::Deviation& d, const run::Account& account) {
  const Unit& nm = unit("nm", Kind::length);
  const auto number = [](const std::optional<double>& value) {
    return value ? finite(*value) : Json(nullptr);
  };
  Json out{{"rule", d.rule},
           {"severity", name(d.severity)},
           {"origin", run::name(d.origin)},
           {"step", d.step},
           {"channel", d.channel},
           {"start", to_rfc3339(d.start)},
           {"end", to_rfc3339(d.end)},
           {"line", d.line.number},
           {"worst", number(d.worst)},
           {"limit", number(d.limit)},
           {"unit", d.unit.symbol},
           {"integral_beyond_limit", number(d.integral)},
           {"effect", d.effect},
           {"mean_change", estimate(d.mean_change, nm)},
           {"local_change", estimate(d.local_change, nm)},
           {"sector", d.sector ? sector_json(*d.sector) : Json(nullptr)},
           {"advice", d.advice}};
  if (d.line != 0) add_file(out, d.line.file, account);
  return out;
}

Json estimates(const run::ThicknessEstimates& e) {
  const Unit& nm = unit("nm", Kind::length);
  Json each = Json::array();
  for (const run::ThicknessEstimate& one : e.each) {
    each.push_back(
        {{"name", one.held.name},
         {"mean", estimate(one.mean, nm)},
         {"weight", finite(one.held.weight.value())},
         {"difference", quantity(one.held.difference, nm)},
         {"difference_expanded_uncertainty", quantity(Length(2.0 * one.held.difference_uncertainty), nm)},
         {"agrees", one.held.agrees},
         {"in_consistent_subset", one.held.in_consistent_subset},
         {"how", one.how}});
  }
  return Json{{"each", std::move(each)},
              {"mean", estimate(e.mean, nm)},
              {"expanded_uncertainty_if_consistent", quantity(Length(2.0 * e.uncertainty_if_consistent), nm)},
              {"chi_squared", finite(e.chi_squared)},
              {"degrees_of_freedom", e.each.size() - 1},
              {"probability", finite(e.probability)},
              {"birge_ratio", finite(e.birge_ratio)},
              {"consistent", e.consistent},
              {"consistent_mean", estimate(e.consistent_mean, nm)},
              {"decides", e.measured},
              {"said", e.said}};
}

Json crystal(const run::CrystalFilm& c) {
  const Unit& nm = unit("nm", Kind::length);
  const bool known = c.why_not.empty();
  Json out{{"crystal", c.crystal}, {"why_not", c.why_not}};
  out["on_crystal"] = known ? estimate(c.on_crystal, nm) : Json(nullptr);
  out["mean"] = known ? estimate(c.mean, nm) : Json(nullptr);
  return out;
}

Json film(const run::Film& f) {
  const Unit& nm = unit("nm", Kind::length);
  const Unit& kwh = unit("kWh", Kind::energy);
  Json out{{"claimed", f.claimed}, {"why_not", f.why_not}};
  out["mean_thickness"] = f.claimed ? estimate(f.mean, nm, f.coverage_factor) : Json(nullptr);
  out["wanted"] = quantity(f.wanted, nm);
  out["tolerance"] = quantity(f.tolerance, nm);
  out["budget"] = budget_json(f.budget);
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
  out["estimates"] = f.estimates ? estimates(*f.estimates) : Json(nullptr);
  out["crystals"] = Json::array();
  for (const run::CrystalFilm& c : f.crystals) out["crystals"].push_back(crystal(c));
  out["assumed"] = f.assumed;
  out["on_optic"] = f.on_optic ? on_optic_json(*f.on_optic) : Json(nullptr);
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
      Json one{{"line", event.line},           {"channel", event.about},
               {"last_line", event.last_line}, {"from", to_rfc3339(event.from)},
               {"to", to_rfc3339(event.to)},   {"detail", event.detail}};
      add_file(one, event.file, account);
      first.push_back(std::move(one));
    }
    out["oddities"].push_back(
        {{"what", log::name(what)}, {"count", account.log.count[i]}, {"first", std::move(first)}});
  }
  return out;
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
  for (const run::Deviation& d : account.deviations) out["deviations"].push_back(deviation(d, account));
  out["vacuum"] = vacuum_json(account.vacuum);
  out["quality"] = quality_json(account.quality);
  out["measured_by"] = Json::array();
  for (const run::MeasuredBy& m : account.measured_by)
    out["measured_by"].push_back({{"date", m.date}, {"by", m.by}, {"instrument", m.instrument}});
  out["tape"] = Json::array();
  for (const run::TapeFound& t : account.tape)
    out["tape"].push_back({{"passed", t.passed}, {"place", t.place}});
  out["log"] = log_summary(account);
  out["safety"] = account.safety;
  return dumped(out);
}

}  // namespace vacuary::report
