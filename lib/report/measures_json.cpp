// What is made before a run, shield and calibration, as JSON. All numbers in the unit their key names.
#include "report/calibration.hpp"
#include "report/json_words.hpp"
#include "report/shield.hpp"

namespace vacuary::report {
namespace {

double mm(Length length) { return length.value() * 1e3; }

Json outcome(const trim::Outcome& o) {
  return {{"uniformity", o.uniformity.value()},
          {"rms", o.rms.value()},
          {"thinnest_at_mm", mm(o.thinnest_at)},
          {"thickest_at_mm", mm(o.thickest_at)},
          {"film_per_turn", o.rate.value()}};
}

const char* origin(calibrate::Origin origin) {
  if (origin == calibrate::Origin::strip) return "strip";
  return origin == calibrate::Origin::chamber_file ? "chamber_file" : "bound";
}

constexpr const char* keys[] = {"film_per_energy_nm_per_kwh", "emission_exponent", "diffuse_share",
                                "opening_mm"};
constexpr double factors[] = {3.6e15, 1, 1, 1e3};

Json four(const std::array<double, calibrate::parameter_count>& values, bool scaled) {
  Json out;
  for (std::size_t j = 0; j < values.size(); ++j) out[keys[j]] = values[j] * (scaled ? factors[j] : 1);
  return out;
}

Json parameters(const calibrate::Calibration& c) {
  Json out;
  for (std::size_t j = 0; j < calibrate::parameter_count; ++j) {
    const calibrate::Fitted& p = c.parameters[j];
    out[keys[j]] = {
        {"value", p.value * factors[j]},
        {"standard_uncertainty", p.uncertainty * factors[j]},
        {"from", origin(p.origin)},
        {"strip_alone", p.strip_uncertainty * factors[j]},
        {"chamber_file",
         {{"value", p.file_value * factors[j]}, {"standard_uncertainty", p.file_uncertainty * factors[j]}}}};
  }
  return out;
}

Json finding(const Diagnostic& d) {
  Json out{{"rule", d.rule}, {"severity", vacuary::name(d.severity)}, {"message", d.message}};
  if (d.where) out["where"] = {{"file", d.where->file}, {"line", d.where->line}, {"column", d.where->column}};
  if (!d.found.empty()) out["found"] = d.found;
  if (!d.bound.empty()) out["bound"] = d.bound;
  if (!d.remedy.empty()) out["remedy"] = d.remedy;
  return out;
}

}  // namespace

std::string shield_json(const trim::Proposal& p) {
  Json table = Json::array(), profile = Json::array(), tolerances = Json::array();
  for (const trim::Edge& e : p.table) {
    table.push_back(
        {{"radius_mm", mm(e.radius)}, {"along_plate_mm", mm(e.along)}, {"open_width_mm", mm(e.opening)}});
  }
  for (std::size_t i = 0; i < p.profile.size(); ++i)
    profile.push_back({{"radius_mm", mm(p.profile_radius[i])}, {"film", p.profile[i].value()}});
  for (const trim::Tolerance& t : p.tolerances)
    tolerances.push_back({{"what", t.what}, {"uniformity", t.uniformity.value()}});
  const auto kwh = [](Energy e) { return e.value() / 3.6e6; };
  Json json{{"format", "vacuary-shield 1"},
            {"recipe", p.recipe},
            {"revision", p.revision},
            {"cathode", p.cathode},
            {"optic", p.optic},
            {"present_shield", p.present.empty() ? Json() : Json(p.present)},
            {"height_mm", mm(p.height)},
            {"wanted_uniformity", p.wanted.value()},
            {"reached", p.reached},
            {"why_not", p.why_not},
            {"proposed", outcome(p.proposed)},
            {"present", outcome(p.now)},
            {"without", outcome(p.bare)},
            {"film_per_energy_nm_per_kwh", p.film_per_energy.value() * 3.6e15},
            {"energy_kwh", {{"now", kwh(p.energy_now)}, {"needed", kwh(p.energy_needed)}}},
            {"turns", {{"now", p.turns_now.value()}, {"needed", p.turns_needed.value()}}},
            {"power_kw", {{"now", p.power_now.value() / 1e3}, {"needed", p.power_needed.value() / 1e3}}},
            {"open_from_mm", mm(p.inner_end)},
            {"open_to_mm", mm(p.outer_end)},
            {"table", std::move(table)},
            {"tolerances", std::move(tolerances)},
            {"profile", std::move(profile)},
            {"assumed", p.assumed}};
  return dumped(json);
}

std::string calibration_json(const calibrate::Calibration& c, const Diagnostics& findings) {
  Json json{{"format", "vacuary-calibration 1"}, {"cathode", c.cathode}, {"strip", c.strip}};
  json["parameters"] = parameters(c);
  json["correlation"] = c.correlation;
  Json pairs = Json::array(), budget = Json::array(), points = Json::array(), next = Json::array(),
       all = Json::array();
  for (const calibrate::PairTold& pair : c.not_told_apart) {
    pairs.push_back({{"a", keys[static_cast<std::size_t>(pair.a)]},
                     {"b", keys[static_cast<std::size_t>(pair.b)]},
                     {"correlation", pair.correlation}});
  }
  for (const calibrate::Share& share : c.budget)
    budget.push_back({{"source", share.source}, {"share_of_variance", four(share.share, false)}});
  for (const calibrate::PointFit& p : c.points) {
    points.push_back({{"exposure", p.exposure + 1},
                      {"radius_mm", mm(p.radius)},
                      {"measured_nm", p.measured.value() * 1e9},
                      {"fitted_nm", p.fitted.value() * 1e9},
                      {"residual", p.residual}});
  }
  for (const calibrate::NextStrip& n : c.next)
    next.push_back({{"what", n.what}, {"standard_uncertainty", four(n.uncertainty, true)}});
  for (const Diagnostic& d : findings) all.push_back(finding(d));
  json["not_told_apart"] = std::move(pairs);
  json["chi_squared"] = c.chi_squared;
  json["degrees_of_freedom"] = c.degrees_of_freedom;
  json["probability"] = c.probability;
  json["budget"] = std::move(budget);
  json["points"] = std::move(points);
  json["next_strips"] = std::move(next);
  json["assumed"] = c.assumed;
  json["block"] = c.block;
  json["findings"] = std::move(all);
  return dumped(json);
}

}  // namespace vacuary::report
