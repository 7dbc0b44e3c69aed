// Vacuum health as JSON.
#include "report/json_words.hpp"

namespace vacuary::report {
namespace {

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

}  // namespace

Json vacuum_json(const run::VacuumHealth& v) {
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

}  // namespace vacuary::report
