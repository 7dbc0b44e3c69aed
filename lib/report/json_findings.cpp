// What `check` says, for programs: findings with the prediction, and SARIF.
#include <algorithm>

#include "report/json_words.hpp"

namespace vacuary::report {
namespace {

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
  out["residual_gas"] = s.residual ? residual_json(*s.residual) : Json(nullptr);
  out["heating"] = s.heating ? heating_json(*s.heating) : Json(nullptr);
  out["clean_dose_at_most_c_per_m2"] = s.clean_dose ? finite(s.clean_dose->value()) : Json(nullptr);
  out["since_clean"] = estimate(s.since_clean, unit("s", Kind::duration));
  out["assumed"] = s.assumed;
  return out;
}

Json predicted(const model::Prediction& p) {
  Json out;
  out["film"] = estimate(p.film, unit("nm", Kind::length));
  out["film_budget"] = budget_json(p.film_budget);
  out["film_map"] = p.film_map ? film_map_json(*p.film_map) : Json(nullptr);
  out["total"] = estimate(p.total, unit("s", Kind::duration));
  out["reflectance"] = Json::array();
  for (const model::FilmReflectance& r : p.reflectance) out["reflectance"].push_back(reflectance_json(r));
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

}  // namespace

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
