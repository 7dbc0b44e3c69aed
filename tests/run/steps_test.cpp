// Steps and their figures; the vacuum.
#include <doctest/doctest.h>

#include <cmath>

#include "run/csv.hpp"
#include "run/vacuum.hpp"

namespace vacuary::run::test {
namespace {

const Figure* figure(const StepAccount& step, const std::string& channel) {
  for (const Figure& f : step.figures) {
    if (f.channel.name() == channel) return &f;
  }
  return nullptr;
}

}  // namespace

TEST_CASE("figures are weighted with time and bridge nothing") {
  Hand hand;
  hand.step("coat");
  hand.voltage_v = 470;
  hand.run(10);
  hand.skip(40);
  hand.voltage_v = 490;
  hand.run(30);
  const Account a = hand.account();
  const StepAccount& coat = a.steps[4];
  REQUIRE(coat.found);
  const Figure* f = figure(coat, "cathode-supply.voltage");
  REQUIRE(f != nullptr);
  CHECK(f->minimum_si == 470);
  CHECK(f->maximum_si == 490);
  CHECK(f->good == 40);
  // 9 s at 470 V and 29 s at 490 V; the gap counts for neither.
  CHECK(f->integral_si_s == doctest::Approx(9 * 470.0 + 29 * 490.0));
  CHECK(f->mean_si == doctest::Approx((9 * 470.0 + 29 * 490.0) / 38));
  CHECK(coat.gaps.value() == doctest::Approx(40));
  CHECK(coat.actual.value() == doctest::Approx(79));
}

TEST_CASE("cells without a value are counted, not bridged") {
  Hand hand;
  hand.run(10);
  hand.manometer_pa = Hand::no_reading();
  hand.run(3);
  hand.manometer_pa = 0.3;
  hand.run(10);
  const Account a = hand.account();
  const Figure* f = figure(a.steps[4], "manometer.pressure");
  CHECK(f->good == 20);
  CHECK(f->bad == 3);
  CHECK(f->integral_si_s == doctest::Approx(0.3 * 18));
}

TEST_CASE("steps are inferred from what the plant did when the log does not name them") {
  Hand hand;
  hand.left_out = {"run.step"};
  hand.power_w = hand.voltage_v = hand.open = 0;
  hand.argon_mol_s = 0;
  hand.manometer_pa = 0.01;
  hand.ion_pa = 1e-4;
  hand.run(3000, 30);
  hand.argon_mol_s = 250 * sccm_mol_s;
  hand.ion_pa = Hand::no_reading();
  hand.manometer_pa = 0.31;
  hand.run(20);
  hand.power_w = 15e3;
  hand.voltage_v = 480;
  hand.run(600);
  hand.open = 1;
  hand.run(300);
  hand.power_w = hand.voltage_v = 0;
  hand.run(6);  // a trip does not end the step
  hand.power_w = 15e3;
  hand.voltage_v = 480;
  hand.run(415);
  hand.power_w = hand.voltage_v = hand.open = 0;
  hand.argon_mol_s = 0;
  hand.manometer_pa = 0.01;
  hand.ion_pa = 1e-4;
  hand.run(1200, 30);
  const Account a = hand.account();
  CHECK(a.steps_from == "inferred from what the plant did");
  REQUIRE(a.steps[3].found);
  CHECK(a.steps[3].actual.value() == doctest::Approx(600).epsilon(0.01));
  REQUIRE(a.steps[4].found);
  CHECK(a.steps[4].actual.value() == doctest::Approx(721).epsilon(0.01));
  CHECK(a.steps[5].found);
  CHECK_FALSE(a.steps[6].found);
  CHECK(one_of(a, "power-interruption") != nullptr);
}

TEST_CASE("a step that lasted too long is told, also where the run went on to the vent") {
  Csv log(2);
  const std::size_t step = column_of(log.header, "run.step");
  const auto last_of = [&](const char* name) {
    std::size_t r = log.rows.size();
    while (log.rows[r - 1][step] != name) --r;
    return r - 1;
  };
  // 70 min more of cooling, row by row as it was; the vent comes so much later.
  const std::size_t at = last_of("cool");
  constexpr int more = 140;
  constexpr std::int64_t every_ns = 30'000'000'000;
  for (std::size_t r = at + 1; r < log.rows.size(); ++r)
    log.rows[r][0] = to_rfc3339(Instant{log.time(r).ns + more * every_ns});
  const Instant from = log.time(at);
  std::vector<std::vector<std::string>> later;
  for (int i = 1; i <= more; ++i) {
    later.push_back(log.rows[at - 20 + static_cast<std::size_t>(i % 20)]);
    later.back()[0] = to_rfc3339(Instant{from.ns + i * every_ns});
  }
  log.rows.insert(log.rows.begin() + static_cast<std::ptrdiff_t>(at + 1), later.begin(), later.end());
  const Account a = log.account();
  INFO(rules_of(a));
  REQUIRE(a.vacuum.vent);
  const Deviation* d = one_of(a, "step-too-long");
  REQUIRE(d != nullptr);
  CHECK(d->step == "cool");
  CHECK(*d->worst == doctest::Approx(90).epsilon(0.02));
  CHECK(*d->limit == doctest::Approx(60));
  // A log that names no vent leaves its last step on while the vessel is let up.
  for (auto& cells : log.rows) {
    if (cells[step] == "vent") cells[step] = "cool";
  }
  const Account b = log.account();
  REQUIRE(b.vacuum.vent);
  CHECK(all_of(b, "step-too-long").empty());
}

TEST_CASE("a step that was broken off is told, whatever the rows behind it belong to") {
  for (const char* then : {"cool", "lunch", ""}) {
    CAPTURE(then);
    Hand hand;
    hand.run(500);
    hand.step(then);
    hand.power_w = hand.voltage_v = hand.open = 0;
    hand.run(60);
    const Account a = hand.account();
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "step-ended-early");
    REQUIRE(d != nullptr);
    CHECK(d->step == "coat");
    CHECK(*d->worst == doctest::Approx(500.0 / 120).epsilon(0.01));
  }
  // Where the log ends there nobody knows.
  Hand hand;
  hand.run(500);
  CHECK(all_of(hand.account(), "step-ended-early").empty());
}

TEST_CASE("a log without a gauge does not say that steps ended before their pressure") {
  Csv log(2);
  for (const char* gauge : {"pirani.pressure", "manometer.pressure", "ion.pressure"}) log.drop(gauge);
  const Account a = log.account();
  INFO(rules_of(a));
  CHECK(all_of(a, "step-ended-early").empty());
  std::size_t found = 0;
  for (const StepAccount& step : a.steps) {
    found += step.found ? 1 : 0;
    if (step.step == "rough" || step.step == "pump to base" || step.step == "vent")
      CHECK(step.ended_by == "pressure, as far as one knows: none is logged");
  }
  CHECK(found == a.steps.size());
}

TEST_CASE("the manometer's zero is what it shows at high vacuum") {
  Hand hand;
  hand.step("pump to base");
  hand.power_w = hand.voltage_v = hand.open = 0;
  hand.argon_mol_s = 0;
  hand.manometer_pa = 0.015;
  hand.ion_pa = 1.1e-4;
  hand.run(600, 30);
  hand.step("coat");
  hand.power_w = 15e3;
  hand.voltage_v = 480;
  hand.open = 1;
  hand.argon_mol_s = 250 * sccm_mol_s;
  hand.manometer_pa = 0.315;
  hand.ion_pa = Hand::no_reading();
  hand.run(721);
  const Account a = hand.account();
  REQUIRE(a.film.parts.size() == 1);
  CHECK(a.film.parts[0].mean_pressure->value() == doctest::Approx(0.300).epsilon(1e-6));
  CHECK(std::any_of(a.notes.begin(), a.notes.end(), [](const std::string& n) {
    return n.find("that zero is taken off") != std::string::npos;
  }));
  // The ion gauge reads nitrogen-equivalent: 1.1e-4 Pa of it are 1.0e-4 Pa of water.
  REQUIRE(a.vacuum.base_pressure);
  CHECK(a.vacuum.base_pressure->value.value() == doctest::Approx(1.0e-4).epsilon(1e-6));
}

namespace {

// The sample plan with a rate-of-rise test of 10 min before the target is conditioned.
plan::Plan plan_with_rise() {
  plan::Plan plan = sample_plan();
  plan::Step rise = plan.recipe.steps[5];
  rise.name.value = "rise test";
  rise.kind = plan::StepKind::rate_of_rise;
  rise.end.time->value = Duration::from_value(600);
  plan.recipe.steps.insert(plan.recipe.steps.begin() + 3, rise);
  return plan;
}

// Pressure (Pa) over 10 min, every 10 s, by the ion gauge: true pressure of water times 1.1.
Account rise_of(double (*pressure_pa)(double)) {
  Hand hand;
  hand.step("rise test");
  hand.power_w = hand.voltage_v = hand.open = hand.argon_mol_s = 0;
  hand.manometer_pa = 0.001;
  for (int i = 0; i <= 60; ++i) {
    hand.ion_pa = 1.1 * pressure_pa(10.0 * i);
    hand.run(10, 10);
  }
  static const plan::Plan plan = plan_with_rise();
  return account_of(plan, sample_map(), hand.log());
}

}  // namespace

TEST_CASE("a straight rise bounds the leak from above") {
  const Account a = rise_of([](double t) { return 2e-4 + 1e-6 * t; });
  REQUIRE(a.vacuum.rises.size() == 1);
  const RateOfRise& rise = a.vacuum.rises.front();
  CHECK(rise.rate.value.value() == doctest::Approx(1e-6).epsilon(1e-6));
  // 1e-6 Pa/s in 14 m3 at 293.15 K.
  CHECK(rise.leak_at_most.value.value() ==
        doctest::Approx(1.4e-5 / (8.31446261815324 * 293.15)).epsilon(1e-6));
  CHECK(rise.reading.find("straight") != std::string::npos);
}

TEST_CASE("a rise that bends over is gas from the walls") {
  const Account a = rise_of([](double t) { return 2e-4 + 1e-4 * (1 - std::exp(-t / 200)); });
  REQUIRE(a.vacuum.rises.size() == 1);
  CHECK(a.vacuum.rises.front().reading.find("bends over") != std::string::npos);
}

TEST_CASE("a power law is found again, whatever the clock's zero") {
  PowerLawFit fit;
  for (double t = 60; t < 50000; t += 20) fit.add(t, 3e-3 * std::pow(t / 3600, -0.87));
  const auto law = fit.result();
  REQUIRE(law);
  CHECK(law->exponent.value.value() == doctest::Approx(-0.87).epsilon(1e-9));
  CHECK(law->exponent.standard_uncertainty.value() < 1e-9);
  CHECK(law->from.value() >= 3600);
  CHECK(law->to.value() <= 36000);
}

// NIST StRD, linear regression, Norris: certified slope 1.00211681802045.
TEST_CASE("the line is the least-squares line") {
  const double x[] = {.2, 337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, .4,
                      .6, 775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, .3,
                      .3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, .5};
  const double y[] = {.1, 338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3,
                      .1, 778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, .3,
                      .6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, .2};
  LineSums line;
  for (int i = 0; i < 36; ++i) line.add(x[i], y[i]);
  CHECK(line.slope() == doctest::Approx(1.00211681802045).epsilon(1e-12));
}

TEST_CASE("a compensated sum loses nothing") {
  Sum sum;
  sum.add(1e16);
  for (int i = 0; i < 1000; ++i) sum.add(1);
  sum.add(-1e16);
  CHECK(sum.value() == 1000);
}

}  // namespace vacuary::run::test
