// Cells that say nothing, numbers that cannot be, and stamps that are rounded: none of it may change the
// film in silence. Rehearsed logs, whose film is known from the log as it was.
#include <doctest/doctest.h>

#include <cmath>
#include <functional>

#include "run/csv.hpp"

namespace vacuary::run::test {
TEST_CASE("a shutter that was not read may have been anywhere: bounded, and told") {
  Csv log(2);
  const double whole = mean_nm(log.account());
  for (std::size_t r = log.film_from + 200; r < log.film_from + 300; ++r) log.cell(r, "cathode.open").clear();
  const Account a = log.account();
  INFO(rules_of(a));
  CHECK(std::abs(mean_nm(a) - whole) < half_nm(a));
  // 100 s at 7.5 nm a minute: 12.5 nm, half of it either way, rectangular.
  CHECK(half_nm(a) > 2 * 6.2 / std::sqrt(3.0));
  const Deviation* d = one_of(a, "film-not-read");
  REQUIRE(d != nullptr);
  CHECK(d->channel == "cathode.open");
  CHECK(*d->worst == doctest::Approx(101));
  CHECK(d->line == log.film_from + 199 + 2);
  CHECK(d->start == log.time(d->line.number - 2));
}

TEST_CASE("a power beyond what the supply can give is no reading") {
  Csv log(2);
  const double whole = mean_nm(log.account());
  for (const char* const reading : {"65535", "9.9e37", "-999"}) {
    CAPTURE(reading);
    Csv odd = log;
    odd.cell(log.film_from + 250, "cathode-supply.power") = reading;
    const Account a = odd.account();
    CHECK(mean_nm(a) == doctest::Approx(whole).epsilon(0.001));
    const Deviation* d = one_of(a, "impossible-reading");
    REQUIRE(d != nullptr);
    CHECK(d->channel == "cathode-supply.power");
    CHECK(d->line == log.film_from + 252);
  }
}

TEST_CASE("a counter that jumps and comes back is no reading; one that was reset is believed again") {
  Csv log(2);
  const Account whole = log.account();
  Csv odd = log;
  odd.cell(log.film_from + 250, "cathode-supply.energy") = "9999";
  const Account a = odd.account();
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(1e-4));
  CHECK(half_nm(a) == doctest::Approx(half_nm(whole)).epsilon(0.01));
  CHECK(one_of(a, "impossible-reading") != nullptr);
  Csv reset = log;
  for (std::size_t r = log.film_from + 250; r < log.rows.size(); ++r) {
    const double kwh = std::strtod(log.cell(r, "cathode-supply.energy").c_str(), nullptr);
    reset.cell(r, "cathode-supply.energy") = std::to_string(kwh - 421);
  }
  CHECK(mean_nm(reset.account()) == doctest::Approx(mean_nm(whole)).epsilon(1e-3));
}

TEST_CASE("a counter that is not read for a while went on meanwhile, and is believed when it is back") {
  Csv log(2);
  const Account whole = log.account();
  for (std::size_t r = log.film_from + 200; r < log.film_from + 320; ++r)
    log.cell(r, "cathode-supply.energy") = "";
  const Account a = log.account();
  CHECK(one_of(a, "impossible-reading") == nullptr);
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(1e-4));
  REQUIRE(a.film.parts.front().energy_counter);
  CHECK(a.film.parts.front().energy_counter->value() ==
        doctest::Approx(whole.film.parts.front().energy_counter->value()).epsilon(0.002));
}

TEST_CASE(
    "a counter of few digits deletes no film: where it stands it says nothing, and what it leaves open is "
    "doubt") {
  plan::ChannelMap map = sample_map();
  for (auto& one : map.step_periods) {
    if (one.kind == plan::StepKind::sputter) one.period = Duration::from_value(5);
  }
  const Csv log(2);
  const double whole = mean_nm(log.account());
  for (const double digit_kwh : {0.001, 0.01, 0.1, 1.0}) {
    CAPTURE(digit_kwh);
    Csv rare = log;
    rare.rows.clear();
    const std::size_t step = column_of(log.header, "run.step");
    for (std::size_t r = 0; r < log.rows.size(); ++r) {
      if (log.rows[r][step] == "coat" && (r - log.film_from) % 5 != 0) continue;
      rare.rows.push_back(log.rows[r]);
      std::string& cell = rare.cell(rare.rows.size() - 1, "cathode-supply.energy");
      cell = std::to_string(std::floor(std::strtod(cell.c_str(), nullptr) / digit_kwh) * digit_kwh);
    }
    const Account a = rare.account(sample_plan(), map);
    CHECK(mean_nm(a) == doctest::Approx(whole).epsilon(0.005));
    // 40 s of the film are missing as well.
    Csv gap = rare;
    const auto from = gap.rows.begin() + static_cast<std::ptrdiff_t>(gap.film_from + 60);
    gap.rows.erase(from, from + 8);
    const Account b = gap.account(sample_plan(), map);
    CHECK(one_of(b, "log-gap") != nullptr);
    CHECK(std::abs(mean_nm(b) - whole) < half_nm(b) / 2);
  }
}

TEST_CASE("a row that was written many times is owed no time: the gap behind it is told") {
  Csv log(2);
  for (auto& row : log.rows) row[column_of(log.header, "cathode-supply.energy")].clear();
  const Account whole = log.account();
  const auto at = log.rows.begin() + static_cast<std::ptrdiff_t>(log.film_from + 200);
  const std::vector<std::string> before = *(at - 1);
  log.rows.erase(at, at + 30);
  log.rows.insert(log.rows.begin() + static_cast<std::ptrdiff_t>(log.film_from + 200), 35, before);
  const Account a = log.account();
  CHECK(one_of(a, "log-gap") != nullptr);
  CHECK(half_nm(a) > half_nm(whole) + 0.3);
}

TEST_CASE("a log whose rows were all written twice says what it says once") {
  const Csv log(2);
  const Account whole = log.read();
  Csv twice = log;
  twice.rows.clear();
  for (const auto& row : log.rows) twice.rows.insert(twice.rows.end(), 2, row);
  const Account a = twice.read();
  CHECK(rules_of(a) == rules_of(whole));
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(1e-4));
}

TEST_CASE("two cathodes one after the other: what one's counter says is nothing to the other's") {
  const Csv one(2);
  const Account whole = one.account();
  const Account a = over_two_cathodes(one).account(two_cathode_plan());
  INFO(rules_of(a));
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.01));
  CHECK(half_nm(a) < 2 * half_nm(whole));
}

TEST_CASE("two cathodes that lay film: each must allow a claim, and each is told") {
  const Csv two = over_two_cathodes(Csv(2));
  const plan::Plan plan = two_cathode_plan();
  const Account whole = two.account(plan);
  REQUIRE(whole.film.claimed);
  const auto told = [&](const std::string& words) {
    return std::count_if(whole.film.assumed.begin(), whole.film.assumed.end(),
                         [&](const std::string& one) { return one.find(words) != std::string::npos; });
  };
  CHECK(told("film per energy of cathode " + plan.chamber.cathodes.front().name.value) == 1);
  CHECK(told("film per energy of cathode second") == 1);
  for (const std::size_t which : {0U, 1U}) {
    CAPTURE(which);
    plan::Plan other = plan;
    other.chamber.cathodes[which].calibration.shield.value = "another";
    const Account a = two.account(other);
    CHECK(!a.film.claimed);
    CHECK(a.film.why_not.find("another") != std::string::npos);
    plan::Plan worse = plan;
    const std::string supply = worse.chamber.cathodes[which].supply.value;
    for (plan::Supply& one : worse.chamber.supplies) {
      if (one.name.value == supply) one.power_accuracy.value = Ratio::of(0.05);
    }
    CHECK(half_nm(two.account(worse)) > 1.2 * half_nm(whole));
  }
  Csv blind = two;
  const std::string voltage = "cathode-supply.voltage [V]";
  blind.header.replace(blind.header.find(voltage), voltage.size(), "spare.temperature [K]");
  const Account a = blind.account(plan);
  CHECK(!a.film.claimed);
  CHECK(a.film.why_not.find("no cathode-supply.voltage") != std::string::npos);
}

TEST_CASE("a code in the log's own vessel pressure is no pressure") {
  const Csv log(2);
  const double whole = mean_nm(log.account());
  for (const char* code : {"9.9e37", "1e300", "0", "-1", "1e6"}) {
    CAPTURE(code);
    Csv coded = log;
    coded.header += ",chamber.pressure [Pa]";
    for (std::size_t r = 0; r < coded.rows.size(); ++r)
      coded.rows[r].emplace_back(r < log.film_from ? "0.3" : code);
    const Account a = coded.account();
    CHECK(a.film.claimed);
    CHECK(mean_nm(a) == doctest::Approx(whole).epsilon(0.01));
  }
}

TEST_CASE("rounded stamps lose no film and are no clock that was set") {
  struct Rounding {
    const char* how;
    std::function<std::int64_t(std::int64_t)> second;
  };
  const std::vector<Rounding> roundings = {
      {"every tenth row a second early", [](std::int64_t n) { return n % 10 == 9 ? n - 1 : n; }},
      {"two and two", [](std::int64_t n) { return n / 2 * 2; }},
      {"every tenth row a second late", [](std::int64_t n) { return n % 10 == 9 ? n + 1 : n; }},
  };
  Csv log(2);
  const Account whole = log.account();
  for (const Rounding& rounding : roundings) {
    CAPTURE(rounding.how);
    Csv rounded = log;
    rounded.date_film(rounding.second);
    const Account a = rounded.account();
    INFO(rules_of(a));
    CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.003));
    CHECK(half_nm(a) < 1.1 * half_nm(whole));
    CHECK(one_of(a, "clock-step") == nullptr);
    CHECK(one_of(a, "step-ended-early") == nullptr);
  }
}

TEST_CASE("stamps to ten seconds or to the minute: the film lies where it lay, and that they are is told") {
  Csv log(2);
  log.rows.resize(log.film_to());
  const Account whole = log.read();
  const auto& fine = whole.film.on_optic;
  REQUIRE(fine);
  for (const std::int64_t unit_s : {10, 60}) {
    CAPTURE(unit_s);
    Csv coarse = log;
    for (std::size_t r = 0; r < log.rows.size(); ++r) {
      const std::int64_t unit_ns = unit_s * 1'000'000'000;
      coarse.rows[r][0] = to_rfc3339(Instant{log.time(r).ns / unit_ns * unit_ns});
    }
    const Account a = coarse.read();
    INFO(rules_of(a));
    CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.001));
    REQUIRE(a.film.on_optic);
    CHECK(a.film.on_optic->map.peak_to_valley.value.value() ==
          doctest::Approx(fine->map.peak_to_valley.value.value()).epsilon(0.02));
    CHECK(rules_of(a) == rules_of(whole));
    CHECK(std::any_of(a.film.assumed.begin(), a.film.assumed.end(), [](const std::string& text) {
      return text.find("share a stamp") != std::string::npos;
    }));
  }
}

TEST_CASE(
    "a logger a little slower than stated, stamped to whole seconds: the counter says what is missing") {
  // Of eleven rows one is taken out and the rest dated by whole seconds of a clock that runs on.
  Csv log(2);
  const Account whole = log.account();
  Csv slow = log;
  slow.rows.clear();
  const std::size_t step = column_of(log.header, "run.step");
  for (std::size_t r = 0; r < log.rows.size(); ++r) {
    const bool film = log.rows[r][step] == "coat";
    if (!film || (r - log.film_from) % 11 != 10) slow.rows.push_back(log.rows[r]);
  }
  const Account a = slow.account();
  INFO(rules_of(a));
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.003));
  CHECK(one_of(a, "clock-step") == nullptr);
  REQUIRE(a.film.parts.size() == 1);
  REQUIRE(a.film.parts.front().energy_counter);
  const double counted_kwh = a.film.parts.front().energy_counter->value() / 3.6e6;
  CHECK(counted_kwh ==
        doctest::Approx(whole.film.parts.front().energy_counter->value() / 3.6e6).epsilon(0.003));
}

}  // namespace vacuary::run::test
