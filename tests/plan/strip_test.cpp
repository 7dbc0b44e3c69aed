// The strip file, TOML and CSV: what loads, and what each mistake is told as.
#include "plan/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

using namespace vacuary;
using namespace vacuary::plan;

namespace {

const Plan& tarn_ridge() {
  static const Result<Plan> loaded =
      load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
  REQUIRE(loaded.ok());
  return loaded.value();
}

Result<Strip> loaded(const std::string& text, const std::string& name) {
  return load_strip(name, tarn_ridge(),
                    [&](const std::filesystem::path&) -> Result<std::shared_ptr<const Source>> {
                      return std::shared_ptr<const Source>(std::make_shared<Source>(name, text));
                    });
}

const std::string good_toml =
    "format = \"vacuary-strip 1\"\n"
    "name = \"A\"\n"
    "[[exposure]]\n"
    "shield = \"trim-3\"\n"
    "target_serial = \"TR-AL-07\"\n"
    "gas = \"Ar\"\n"
    "date = \"2031-03-04\"\n"
    "energy = \"3 kWh\"\n"
    "energy_used = \"420 kWh\"\n"
    "pressure = \"0.3 Pa\"\n"
    "voltage = \"480 V\"\n"
    "turns = 6\n"
    "points = [\n"
    "  { radius = \"300 mm\", thickness = \"91 nm\", uncertainty = \"0.5 nm\" },\n"
    "  { radius = \"0.9 m\", thickness = \"90 nm\", uncertainty = \"0.5 nm\" },\n"
    "]\n";
const std::string good_csv =
    "# measured by hand\n"
    "radius [mm],thickness [nm],uncertainty [nm],shield,target_serial,gas,date,energy [kWh],energy_used "
    "[kWh],pressure [Pa],voltage [V],turns\n"
    "300,91,0.5,trim-3,TR-AL-07,Ar,2031-03-04,3,420,0.3,480,6\n"
    "\"900\",90,0.5,trim-3,TR-AL-07,Ar,2031-03-04,3,420,0.3,480,6\r\n"
    "\n"
    "300,200,1,none,TR-AL-07,Ar,2031-03-04,3,423,0.3,480,6\n";

// Everything that is said of the text with one part changed.
Diagnostics complaints(std::string text, const std::string& name, const std::string& from,
                       const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  text.replace(at, from.size(), to);
  const Result<Strip> result = loaded(text, name);
  REQUIRE_FALSE(result.ok());
  return result.diagnostics();
}

// One of them is by this rule and at this line.
bool told(const Diagnostics& all, const std::string& rule, unsigned line) {
  for (const Diagnostic& d : all) {
    if (d.rule == rule && d.where && d.where->line == line) return true;
  }
  return false;
}

struct Bad {
  const char *from, *to, *rule;
  unsigned line;
};

}  // namespace

TEST_CASE("both forms of a strip load to the same values") {
  const Result<Strip> toml = loaded(good_toml, "strip.toml");
  REQUIRE(toml.ok());
  CHECK(toml.value().cathode.value == "cathode");  // the only one
  CHECK(toml.value().gauge_uncertainty.value.value() == doctest::Approx(0.01));
  REQUIRE(toml.value().exposures.size() == 1);
  const Result<Strip> csv = loaded(good_csv, "strip.csv");
  for (const Diagnostic& d : csv.diagnostics()) MESSAGE(to_text(d));
  REQUIRE(csv.ok());
  CHECK(csv.value().name.value == "strip");
  REQUIRE(csv.value().exposures.size() == 2);
  CHECK(csv.value().exposures[1].shield.value.empty());
  const Exposure& a = toml.value().exposures[0];
  const Exposure& b = csv.value().exposures[0];
  REQUIRE(a.points.size() == b.points.size());
  for (std::size_t i = 0; i < a.points.size(); ++i) {
    CHECK(a.points[i].radius.value.value() == doctest::Approx(b.points[i].radius.value.value()));
    CHECK(a.points[i].thickness.value.value() == doctest::Approx(b.points[i].thickness.value.value()));
  }
  CHECK(a.energy.value == b.energy.value);
  CHECK(a.turns.value == b.turns.value);
  CHECK(a.shield.value == b.shield.value);
}

TEST_CASE("each mistake in a strip file is told at its line") {
  const Bad all[] = {
      {"\"3 kWh\"", "\"3 kW\"", "bad-quantity", 8},
      {"\"0.3 Pa\"", "\"0.3 Pascal\"", "bad-quantity", 10},
      {"energy = \"3 kWh\"\n", "", "missing-key", 3},
      {"\"91 nm\"", "\"-91 nm\"", "out-of-domain", 14},
      {"\"0.5 nm\"", "\"0 nm\"", "out-of-domain", 14},
      {"\"0.5 nm\"", "\"95 nm\"", "out-of-domain", 14},
      {"\"300 mm\"", "\"300 nm\"", "out-of-domain", 14},
      {"\"0.9 m\"", "\"1.4 m\"", "out-of-domain", 15},
      {"trim-3", "trim-2", "unknown-reference", 4},
      {"TR-AL-07", "TR-AL-08", "unknown-reference", 5},
      {"2031-03-04", "4.3.2031", "out-of-domain", 7},
      {"turns = 6", "turns = 0.5", "out-of-domain", 12},
      {"voltage", "voltgae", "unknown-key", 11},
      {"vacuary-strip 1", "vacuary-strip 9", "unknown-format", 1},
      {"name = \"A\"", "name = \"A\"\ncathode = \"cathod\"", "unknown-reference", 3},
  };
  for (const Bad& bad : all) {
    CAPTURE(std::string(bad.to));
    CHECK(told(complaints(good_toml, "strip.toml", bad.from, bad.to), bad.rule, bad.line));
  }
}

TEST_CASE("each mistake in a strip written as CSV is told at its cell") {
  const Bad all[] = {
      {"thickness [nm]", "thickness [V]", "bad-quantity", 3},
      {"thickness [nm]", "thicknes [nm]", "unknown-key", 2},
      {"radius [mm],", "radius [mm],radius [m],", "duplicate-name", 2},
      {",voltage [V]", "", "missing-key", 2},
      {"turns\n", "turns [s]\n", "wrong-type", 2},
      {"300,91,0.5", "300,-91,0.5", "out-of-domain", 3},
      {"300,91,0.5", "300,91,0", "out-of-domain", 3},
      {"300,91,0.5", "1400,91,0.5", "out-of-domain", 3},
      {"300,91,0.5", "300,91", "syntax", 3},
      {"\"900\"", "\"900", "syntax", 4},
      {"300,91,0.5,trim-3", "300,91,0.5,trim-2", "unknown-reference", 3},
      {"0.3,480,6", "0.3,480,six", "wrong-type", 3},
      {"300,91", "abc,91", "bad-quantity", 3},
  };
  for (const Bad& bad : all) {
    CAPTURE(std::string(bad.to));
    CHECK(told(complaints(good_csv, "strip.csv", bad.from, bad.to), bad.rule, bad.line));
  }
}

TEST_CASE("a strip cut off anywhere is no crash, and never more than was written") {
  for (const auto& [text, name] : {std::pair{good_toml, "strip.toml"}, std::pair{good_csv, "strip.csv"}}) {
    for (std::size_t n = 0; n < text.size(); ++n) {
      const Result<Strip> result = loaded(text.substr(0, n), name);
      if (!result.ok()) CHECK_FALSE(result.diagnostics().empty());
      if (result.has_value()) CHECK(result.value().exposures.size() <= 2);
    }
  }
}
