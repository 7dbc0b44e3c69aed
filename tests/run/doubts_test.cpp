// What the log leaves open about the film is doubt: told, and in the film's uncertainty.
#include <doctest/doctest.h>

#include <cmath>

#include "run/csv.hpp"

namespace vacuary::run::test {
namespace {

double contribution_nm(const Account& a, const std::string& input) {
  for (const model::BudgetLine& line : a.film.budget) {
    if (line.input == input) return line.contribution.value() * mean_nm(a);
  }
  return 0;
}
double gaps_nm(const Account& a) { return contribution_nm(a, "gaps and frozen readings in the film"); }

// Five minutes behind the shutter and the film; the supply reads nothing new for so long before and after the
// film began. 15 kW lay 0.125 nm a second, the supply could give 20 kW.
Account frozen(double before_s, double after_s, bool counter, double meanwhile_w = 15e3) {
  Hand hand;
  hand.wobble = 0.003;
  if (!counter) hand.left_out = {"cathode-supply.energy"};
  const auto freeze = [&](bool on) {
    hand.frozen_supply = on;
    hand.power_w = on ? meanwhile_w : 15e3;
  };
  hand.step("condition target");
  hand.open = 0;
  hand.run(300 - before_s);
  freeze(before_s > 0);
  hand.run(before_s);
  hand.step("coat");
  hand.open = 1;
  if (before_s == 0) hand.run(100);
  freeze(after_s > 0);
  hand.run(after_s);
  freeze(false);
  hand.run(721 - after_s - (before_s == 0 ? 100 : 0));
  return hand.account();
}

plan::ChannelMap map_without_periods() {
  plan::ChannelMap map = sample_map();
  map.period.reset();
  map.step_periods.clear();
  return map;
}

}  // namespace

TEST_CASE("a supply frozen from before the film into it: what it gave in the film is in doubt") {
  for (const bool counter : {false, true}) {
    CAPTURE(counter);
    const Account whole = frozen(0, 0, counter);
    const Account a = frozen(20, 30, counter);
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "frozen-channels");
    REQUIRE(d != nullptr);
    CHECK(d->step == "condition target");
    CHECK(d->effect.find("known only to within") != std::string::npos);
    // 450 kJ as it stood. Without a counter nothing up to 600 kJ; with one it counted 750 kJ, of which the 20
    // s before may have taken 400 kJ and no less than 150 kJ.
    const double doubt_nm = counter ? 10 * 0.125 : 30 * 0.125;
    CHECK(gaps_nm(whole) == 0);
    CHECK(gaps_nm(a) == doctest::Approx(doubt_nm / std::sqrt(3.0)).epsilon(0.1));
    CHECK(half_nm(a) > half_nm(whole) + 0.1);
  }
}

TEST_CASE("a supply frozen in the film: its counter says what it gave, without one it may be anything") {
  for (const bool counter : {false, true}) {
    CAPTURE(counter);
    const Account a = frozen(0, 30, counter, 14e3);
    REQUIRE(one_of(a, "frozen-channels") != nullptr);
    const double doubt_nm = counter ? 2 * 0.125 : 30 * 0.125;
    CHECK(gaps_nm(a) == doctest::Approx(doubt_nm / std::sqrt(3.0)).epsilon(0.1));
  }
}

TEST_CASE("a supply that stopped reading in its film and comes back when another's is laid") {
  const plan::Plan plan = two_cathode_plan();
  const Csv whole = over_two_cathodes(Csv(2));
  Csv log = whole;
  const std::size_t change = log.film_to(), from = change - 60;
  for (std::size_t r = from; r < change + 30; ++r) {
    for (const char* name : {"cathode-supply.power", "cathode-supply.voltage", "cathode-supply.current",
                             "cathode-supply.energy", "cathode-supply.arcs"})
      log.cell(r, name) = log.cell(from - 1, name);
  }
  const Account a = log.account(plan);
  INFO(rules_of(a));
  const Deviation* d = one_of(a, "frozen-channels");
  REQUIRE(d != nullptr);
  CHECK(d->effect.find("known only to within") != std::string::npos);
  // A minute of film that may be none.
  CHECK(gaps_nm(a) == doctest::Approx(60 * 0.125 / std::sqrt(3.0)).epsilon(0.1));
  CHECK(gaps_nm(whole.account(plan)) == 0);
}

TEST_CASE("a supply frozen only before the film costs the film nothing") {
  Hand hand;
  hand.wobble = 0.003;
  hand.step("condition target");
  hand.open = 0;
  hand.run(200);
  hand.frozen_supply = true;
  hand.run(50);
  hand.frozen_supply = false;
  hand.run(50);
  hand.step("coat");
  hand.open = 1;
  hand.run(721);
  const Account a = hand.account();
  CHECK(one_of(a, "frozen-channels") != nullptr);
  CHECK(gaps_nm(a) == 0);
}

TEST_CASE(
    "rows that differ and share a stamp, no period stated: they are owed one row, not the gap behind them") {
  Csv log(2);
  for (auto& row : log.rows) row[column_of(log.header, "cathode-supply.energy")].clear();
  const Account whole = log.read(sample_plan(), map_without_periods());
  CHECK(all_of(whole, "log-gap").empty());
  // 35 readings of one second, and then 30 s of which nothing was written.
  const std::size_t from = log.film_from + 200;
  for (std::size_t r = from; r < from + 35; ++r) log.rows[r][0] = log.rows[from][0];
  for (std::size_t r = from + 35; r < log.rows.size(); ++r)
    log.rows[r][0] = to_rfc3339(Instant{log.time(r).ns - 5'000'000'000});
  const Account a = log.read(sample_plan(), map_without_periods());
  INFO(rules_of(a));
  const Deviation* d = one_of(a, "log-gap");
  REQUIRE(d != nullptr);
  CHECK(d->line == from + 35 + 2);
  CHECK(*d->worst == doctest::Approx(30));
  CHECK(half_nm(a) > half_nm(whole) + 0.3);
  // A pair that shares a stamp takes nothing from the row behind it.
  Csv pairs(2);
  for (auto& row : pairs.rows) row[column_of(pairs.header, "cathode-supply.energy")].clear();
  pairs.date_film([](std::int64_t n) { return n % 10 == 9 ? n - 1 : n; });
  const Account b = pairs.read(sample_plan(), map_without_periods());
  CHECK(all_of(b, "log-gap").empty());
  CHECK(half_nm(b) < 1.1 * half_nm(whole));
}

TEST_CASE("digits lost by the first of two supplies are doubt in its own film and in no other") {
  const plan::Plan plan = two_cathode_plan();
  const Csv log = over_two_cathodes(Csv(2));
  const Account whole = log.read(plan);
  REQUIRE(whole.film.parts.size() == 2);
  // In whole kilowatts for its last 200 s; the reader sees it some rows later.
  Csv coarse = log;
  for (std::size_t r = log.film_to() - 200; r < log.film_to(); ++r) {
    std::string& cell = coarse.cell(r, "cathode-supply.power");
    cell = std::to_string(std::lround(std::strtod(cell.c_str(), nullptr)));
  }
  const Account a = coarse.read(plan);
  REQUIRE(a.film.parts.size() == 2);
  // Variance of a part's energy beyond the supply's own accuracy.
  const auto unseen_j2 = [&](const Account& of, std::size_t part) {
    const auto& energy = of.film.parts[part].energy;
    const double accuracy = plan.chamber.supplies.front().power_accuracy.value.value();
    return std::pow(energy.standard_uncertainty.value(), 2) - std::pow(accuracy * energy.value.value(), 2);
  };
  // 0.5 kW either way.
  CHECK(std::sqrt(unseen_j2(a, 0) - unseen_j2(whole, 0)) ==
        doctest::Approx(500 * 200 / std::sqrt(3.0)).epsilon(0.15));
  CHECK(unseen_j2(a, 1) == doctest::Approx(unseen_j2(whole, 1)).epsilon(1e-6));
  CHECK(half_nm(a) > half_nm(whole) + 0.01);
}

TEST_CASE("a pressure that nobody logged costs uncertainty, and stands in the budget") {
  const Csv log(2);
  const Account whole = log.account();
  Csv blind = log;
  for (const char* gauge : {"pirani.pressure", "manometer.pressure", "ion.pressure"}) blind.drop(gauge);
  const Account a = blind.account();
  REQUIRE(a.film.claimed);
  constexpr const char* input = "working pressure not known";
  const double slope = std::abs(
      model::film_pressure_sensitivity(sample_plan().chamber.cathodes.front(), Pressure::from_value(0.30))
          .value());
  CHECK(contribution_nm(whole, input) == 0);
  CHECK(contribution_nm(a, input) ==
        doctest::Approx(0.5 / std::sqrt(3.0) * slope * mean_nm(a)).epsilon(1e-6));
  CHECK(half_nm(a) > half_nm(whole) + 0.5);
  CHECK(std::any_of(a.film.assumed.begin(), a.film.assumed.end(), [](const std::string& text) {
    return text.find("right to within half of it") != std::string::npos;
  }));
  // Not known for a tenth of the film: a tenth of that.
  Csv now_and_then = log;
  const std::size_t from = log.film_from + 200, rows = (log.film_to() - log.film_from) / 10;
  for (std::size_t r = from; r < from + rows; ++r) {
    for (const char* gauge : {"pirani.pressure", "manometer.pressure", "ion.pressure"})
      now_and_then.cell(r, gauge).clear();
  }
  const Account b = now_and_then.account();
  CHECK(contribution_nm(b, input) == doctest::Approx(0.1 * contribution_nm(a, input)).epsilon(0.05));
}

}  // namespace vacuary::run::test
