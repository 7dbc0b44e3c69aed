#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "report/report.hpp"

using namespace vacuary;
using nlohmann::json;

namespace {

Diagnostic finding() {
  Diagnostic d;
  d.severity = Severity::warning;
  d.rule = "film-out-of-tolerance";
  d.message = "the film comes out thin";
  d.where = Place{"my recipe \xC3\xA5.toml", 12, 3, 5, "power = 1"};
  d.second = SecondPlace{Place{"/optic.toml", 4, 1, 1, "x"}, "wanted here"};
  d.found = "81 nm";
  d.bound = "at least 80 nm";
  d.assumed = {"the film per energy of the last test shot"};
  d.remedy = "raise the energy to 3.1 kWh";
  return d;
}

}  // namespace

TEST_CASE("findings close with their count") {
  CHECK(report::findings_text({}, {}) == "no findings\n");
  const std::string text = report::findings_text({finding()}, {});
  CHECK(text.ends_with("0 errors, 1 warning, 0 notes\n"));
}

TEST_CASE("SARIF names places as URIs, columns in code points, and only rules that were used") {
  const json sarif = json::parse(report::findings_sarif({finding()}, "1.2.3"));
  CHECK(sarif["version"] == "2.1.0");
  const json run = sarif["runs"][0];
  CHECK(run["columnKind"] == "unicodeCodePoints");
  CHECK(run["tool"]["driver"]["semanticVersion"] == "1.2.3");
  const json result = run["results"][0];
  CHECK(result["level"] == "warning");
  CHECK(result["ruleId"] == "film-out-of-tolerance");
  const json physical = result["locations"][0]["physicalLocation"];
  CHECK(physical["artifactLocation"]["uri"] == "my%20recipe%20%C3%A5.toml");
  CHECK(physical["region"]["startLine"] == 12);
  CHECK(physical["region"]["startColumn"] == 3);
  CHECK(physical["region"]["endColumn"] == 8);
  CHECK(result["relatedLocations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "file:///optic.toml");
  for (const json& rule : run["tool"]["driver"]["rules"]) CHECK(rule["id"] == "film-out-of-tolerance");
}

TEST_CASE("findings as JSON keep place, numbers and remedy") {
  const json out = json::parse(report::findings_json({finding()}, nullptr, nullptr));
  const json first = out["findings"][0];
  CHECK(first["where"]["line"] == 12);
  CHECK(first["second"]["label"] == "wanted here");
  CHECK(first["found"] == "81 nm");
  CHECK(first["remedy"] == "raise the energy to 3.1 kWh");
}
