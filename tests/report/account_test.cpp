// What a person reads and a program gets of an account.
#include <doctest/doctest.h>

#include <limits>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "report/report.hpp"
#include "report/words.hpp"
#include "sample_account.hpp"

using namespace vacuary;
using nlohmann::json;

TEST_CASE("durations are said in the two units a person would use") {
  const auto said = [](double seconds) { return report::words(Duration::from_value(seconds)); };
  CHECK(said(0) == "0 s");
  CHECK(said(4.25) == "4.25 s");
  CHECK(said(59.97) == "1 min");
  CHECK(said(60) == "1 min");
  CHECK(said(724.25) == "12 min 4 s");
  CHECK(said(3599.7) == "1 h");
  CHECK(said(16800) == "4 h 40 min");
  CHECK(said(7200) == "2 h");
  CHECK(said(-90) == "-1 min 30 s");
  CHECK(report::words(Estimate<Duration>{Duration::from_value(720), Duration::from_value(2)}) ==
        "12 min +/- 4 s");
}

TEST_CASE("instants keep a tenth of a second and say their zone") {
  CHECK(report::words(testing::at("2031-03-04T15:12:04.250Z")) == "2031-03-04 15:12:04.2 UTC");
  CHECK(report::words(testing::at("2031-03-04T15:12:04Z")) == "2031-03-04 15:12:04 UTC");
}

TEST_CASE("tables align by what a person sees, not by bytes") {
  report::Table table({"\xC3\xA5ngstr\xC3\xB6m", "n"}, {false, true});
  table.add({"a", "10"});
  CHECK(table.text("  ") == "  \xC3\xA5ngstr\xC3\xB6m   n\n  a         10\n");
}

TEST_CASE("the text report, whole") {
  CHECK(report::account_text(testing::sample_account(), {}) == R"(Practice <film> & more, revision 7
Tarn Ridge coating vessel, Tarn Ridge 2.6 m primary

Verdict: review: a person has to look before this film is accepted
  - power was interrupted for 4 s in step 'coat'

Film
  mean thickness  89.4 nm +/- 4.8 nm (k = 2), wanted 90 nm +/- 10 nm
  - step 'coat': 2.980 kWh +/- 0.060 kWh laid 89.4 nm +/- 4.8 nm
  what the uncertainty is made of:
    input                          standard uncertainty  contributes  share of variance
    film per energy (calibration)                 2.5 %        2.5 %               86 %
  assumed:
  - the trim shield keeps the film as even as when it was calibrated

Steps
  step  kind     start                           planned      actual  ended by
  coat  sputter  2031-03-04 15:00:00 UTC  12 min +/- 4 s  12 min 4 s  6 turns
  cool  hold                                                          not in the log

Deviations
  1. error: power interruption in step 'coat' (process)
     when      2031-03-04 15:04:00 UTC, for 4 s (log line 912)
     measured  cathode-supply.power: worst 0 kW, limit 14.5 kW, beyond it 58 kW s in all
     film      mean 0.5 nm thinner
     advice    look at the <supply> & its "log"

Vacuum
  - base pressure before the film 9.7e-7 mbar +/- 2.0e-7 mbar, reached after 4 h 40 min

Log
  troubled.csv
  2000 rows from 2031-03-04 08:00:00 UTC to 2031-03-04 17:00:00 UTC
  steps taken from: step column
  what was odd in it:
    what  count  first at line
    gap       1            700

Before anyone opens the vessel
  - Argon displaces air.
)");
}

TEST_CASE("a thickness that is not claimed is nowhere given as a number") {
  run::Account account = testing::sample_account();
  account.film.claimed = false;
  account.film.why_not = "no voltage in this log";
  const json report = json::parse(report::account_json(account));
  CHECK(report["film"]["mean_thickness"].is_null());
  CHECK(report["film"]["parts"][0]["thickness"].is_null());
  CHECK(report["film"]["why_not"] == "no voltage in this log");
  for (const std::string& text : {report::account_text(account, {}), report::account_html(account)}) {
    CHECK(text.find("no thickness is claimed: no voltage in this log") != std::string::npos);
    CHECK(text.find("89.4") == std::string::npos);
  }
}

TEST_CASE("report.json has what programs were promised") {
  const json report = json::parse(report::account_json(testing::sample_account()));
  CHECK(report["verdict"] == "review");
  const json mean = report["film"]["mean_thickness"];
  CHECK(mean["value"].get<double>() == doctest::Approx(89.4321).epsilon(1e-12));
  CHECK(mean["unit"] == "nm");
  CHECK(mean["expanded_uncertainty"].get<double>() == doctest::Approx(4.82).epsilon(1e-12));
  CHECK(mean["coverage_factor"] == 2.0);
  for (const char* key : {"rule", "step", "channel", "start", "end", "worst", "limit", "unit", "effect"}) {
    CHECK(report["deviations"][0].contains(key));
  }
  CHECK(report["steps"][0]["figures"][0]["mean"].get<double>() == doctest::Approx(14.9));
  CHECK(report["steps"][1]["found"] == false);
  CHECK(report["steps"][1]["start"].is_null());
}

TEST_CASE("numbers that are none become null, never zero") {
  run::Account account = testing::sample_account();
  account.steps[0].figures[0].mean_si = std::numeric_limits<double>::quiet_NaN();
  account.deviations[0].worst = std::numeric_limits<double>::infinity();
  const json report = json::parse(report::account_json(account));
  CHECK(report["steps"][0]["figures"][0]["mean"].is_null());
  CHECK(report["deviations"][0]["worst"].is_null());
}

TEST_CASE("text from files cannot become markup, script or terminal commands") {
  run::Account account = testing::sample_account();
  account.recipe = "</title><script>alert('x')</script>\x1b[2J";
  account.log_files = {"\xff\xfe.csv"};
  const std::string html = report::account_html(account);
  CHECK(html.find("<script") == std::string::npos);
  CHECK(html.find('\x1b') == std::string::npos);
  CHECK(html.find("look at the &lt;supply&gt; &amp; its &quot;log&quot;") != std::string::npos);
  CHECK(report::account_text(account, {}).find('\x1b') == std::string::npos);
  CHECK(json::parse(report::account_json(account)).is_object());
}

TEST_CASE("of a log of several files the lines say whose they are") {
  run::Account account = testing::sample_account();
  const auto first = [&] {
    return json::parse(report::account_json(account))["log"]["oddities"][0]["first"][0];
  };
  CHECK(!first().contains("file"));
  account.log_files = {"a.csv", "b.csv"};
  account.log.first.front().file = 1;
  CHECK(first()["file"] == "b.csv");
  const std::string text = report::account_text(account, {});
  CHECK(text.find("first at line  of\n") != std::string::npos);
  CHECK(text.find("  b.csv\n") != std::string::npos);
  CHECK(report::account_html(account).find("b.csv") != std::string::npos);

  const auto deviation = [&] { return json::parse(report::account_json(account))["deviations"][0]; };
  CHECK(deviation()["file"] == "a.csv");
  CHECK(text.find("(log line 912 of a.csv)") != std::string::npos);
  account.deviations.front().line = {};
  CHECK_FALSE(deviation().contains("file"));
}

TEST_CASE("the same account gives the same bytes") {
  const run::Account account = testing::sample_account();
  CHECK(report::account_json(account) == report::account_json(account));
  CHECK(report::account_html(account) == report::account_html(account));
}
