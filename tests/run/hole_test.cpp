// Rows that do not say what the film hangs on, again and again: no bias, and doubt where there is cause.
#include "run/hole.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "run/csv.hpp"

namespace vacuary::run::test {
namespace {

const std::vector<std::string> supply = {"cathode-supply.power", "cathode-supply.voltage",
                                         "cathode-supply.current", "cathode-supply.energy",
                                         "cathode-supply.arcs"};

// Blanks the channels in rows that `hit` names, from the step before the film on.
void blank(Csv& log, const std::vector<std::string>& names, const std::function<bool(std::size_t)>& hit) {
  for (const std::string& name : names) {
    const std::size_t c = column_of(log.header, name);
    for (std::size_t r = log.film_from - 300; r < log.rows.size(); ++r) {
      if (hit(r)) log.rows[r][c].clear();
    }
  }
}

// One in `n` rows, at random, the same for the same seed.
std::function<bool(std::size_t)> one_in(double n, unsigned seed) {
  std::mt19937 draw(seed);
  std::vector<char> hits;
  for (int i = 0; i < 100000; ++i) hits.push_back(static_cast<double>(draw()) < 4294967296.0 / n);
  return [hits](std::size_t r) { return hits[r] != 0; };
}

Hole::At at(double s, double power_w, double open = 1, bool missing = false) {
  Hole::At row;
  row.time.ns = std::llround(s * 1e9);
  row.power_w = power_w;
  row.open = open;
  row.missing = missing;
  return row;
}

}  // namespace

TEST_CASE("single readings missing again and again bias nothing, and are told") {
  const Csv log(2);
  const Account whole = log.account();
  for (const double n : {100.0, 10.0, 3.0}) {
    for (const bool shutter : {false, true}) {
      CAPTURE(n);
      CAPTURE(shutter);
      Csv holes = log;
      blank(holes, shutter ? std::vector<std::string>{"cathode.open"} : supply, one_in(n, 7));
      const Account a = holes.account();
      INFO(rules_of(a));
      CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.002));
      CHECK(half_nm(a) < 1.15 * half_nm(whole));
      // Of three rows one, and now and then five in a row, which are long.
      const auto told = all_of(a, "film-not-read");
      REQUIRE(!told.empty());
      CHECK(told.size() <= (n > 5 ? 1 : 3));
      CHECK(told.front()->severity == (n > 50 ? Severity::note : Severity::warning));
      REQUIRE(a.film.parts.front().energy_counter);
      CHECK(a.film.parts.front().energy_counter->value() ==
            doctest::Approx(whole.film.parts.front().energy_counter->value()).epsilon(0.002));
      CHECK(a.deviations.size() == whole.deviations.size() + told.size());
    }
  }
}

TEST_CASE("rows that hold only an event, between those of the plant, take nothing from the film") {
  const Csv log(2);
  const Account whole = log.account();
  Csv events = log;
  events.rows.clear();
  const std::size_t step = column_of(log.header, "run.step");
  for (std::size_t r = 0; r < log.rows.size(); ++r) {
    events.rows.push_back(log.rows[r]);
    if (r < log.film_from || r % 3 != 0) continue;
    std::vector<std::string> event(log.rows[r].size());
    event[0] = to_rfc3339(Instant{log.time(r).ns + 500'000'000});
    event[step] = log.rows[r][step];
    events.rows.push_back(event);
  }
  const Account a = events.account();
  INFO(rules_of(a));
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.002));
  CHECK(half_nm(a) < 1.05 * half_nm(whole));
}

TEST_CASE("lines between rows that are none of the plant's take nothing from the film") {
  const Csv log(2);
  const Account whole = log.account();
  const std::string commas(cells_of(log.header).size() - 1, ',');
  for (const std::string& line :
       {std::string("operator: looked through the window"), commas, "page 3 of the trend\n" + log.header}) {
    CAPTURE(line);
    std::string text = log.header + "\n";
    for (std::size_t r = 0; r < log.rows.size(); ++r) {
      text += line_of(log.rows[r]) + "\n";
      if (r % 3 == 2) text += line + "\n";
    }
    const Result<Account> a = account_of_text(text, sample_map(), sample_plan());
    REQUIRE(a.has_value());
    CHECK(mean_nm(a.value()) == doctest::Approx(mean_nm(whole)).epsilon(1e-6));
    CHECK(half_nm(a.value()) == doctest::Approx(half_nm(whole)).epsilon(1e-6));
    CHECK(rules_of(a.value()) == rules_of(whole));
  }
}

TEST_CASE("a shutter that is logged in every so many rows, as regularly as that, is a slower channel") {
  const Csv log(2);
  const Account whole = log.account();
  for (const std::size_t every : {5U, 20U}) {
    CAPTURE(every);
    Csv slow = log;
    blank(slow, {"cathode.open"}, [&](std::size_t r) { return r % every != 0; });
    const Account a = slow.account();
    INFO(rules_of(a));
    // When it opened is known to so many seconds, rectangular. How it closed, at the step's end, is not read
    // when the rows behind it come later than that.
    const double nm = 0.125 * static_cast<double>(every);
    const double edges_nm = std::hypot(nm / std::sqrt(12.0), nm / std::sqrt(3.0));
    CHECK(std::abs(mean_nm(a) - mean_nm(whole)) < 2 * edges_nm);
    CHECK(half_nm(a) < std::hypot(half_nm(whole), 2.1 * edges_nm));
  }
}

TEST_CASE(
    "long silences without a counter are unknown alike: their doubts add up, and many are told as one") {
  const Csv log(2);
  const Account whole = log.account();
  const auto silent = [&](std::size_t r) { return r > log.film_from + 20 && r % 50 < 10; };
  for (const bool counter : {true, false}) {
    CAPTURE(counter);
    Csv holes = log;
    blank(holes, {supply[0], supply[1], supply[2]}, silent);
    if (!counter) blank(holes, {supply[3]}, [](std::size_t) { return true; });
    const Account a = holes.account();
    INFO(rules_of(a));
    CHECK(std::abs(mean_nm(a) - mean_nm(whole)) < (counter ? 0.3 : 1.5));
    const auto told = all_of(a, "film-not-read");
    REQUIRE(told.size() == 1);
    if (counter) {
      CHECK(half_nm(a) < 1.1 * half_nm(whole));
    } else {
      // 13 or 14 silences of 11 s; of each 15 kW taken of 0 to 20 kW.
      const double each_nm = std::hypot(10 / std::sqrt(3.0), 5) * 11 * 0.125 / 15;
      CHECK(half_nm(a) == doctest::Approx(std::hypot(half_nm(whole), 2 * 13.5 * each_nm)).epsilon(0.08));
    }
  }
}

TEST_CASE("rows that are missing between shut shutters lay nothing, though the row behind them is blank") {
  Csv log(2);
  const Account whole = log.account();
  const std::size_t from = log.film_from - 250;
  log.rows.erase(log.rows.begin() + static_cast<std::ptrdiff_t>(from),
                 log.rows.begin() + static_cast<std::ptrdiff_t>(from + 60));
  for (std::size_t c = 2; c < log.rows[from].size(); ++c) log.rows[from][c].clear();
  const Account a = log.account();
  INFO(rules_of(a));
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.001));
  CHECK(half_nm(a) < 1.05 * half_nm(whole));
}

TEST_CASE("rows missing in the film before a blank one: the gap is told once, with what was laid in it") {
  for (const bool counter : {true, false}) {
    CAPTURE(counter);
    Csv log(2);
    const Account whole = log.account();
    if (!counter) blank(log, {supply[3]}, [](std::size_t) { return true; });
    const std::size_t from = log.film_from + 100;
    log.rows.erase(log.rows.begin() + static_cast<std::ptrdiff_t>(from),
                   log.rows.begin() + static_cast<std::ptrdiff_t>(from + 30));
    for (std::size_t c = 2; c < log.rows[from].size(); ++c) log.rows[from][c].clear();
    const Account a = log.account();
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "log-gap");
    REQUIRE(d != nullptr);
    CHECK(*d->worst == doctest::Approx(31));
    CHECK(d->line == from + 2);
    CHECK(one_of(a, "film-not-read") == nullptr);
    CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(0.003));
    CHECK((half_nm(a) > half_nm(whole) + 1) == !counter);
  }
}

TEST_CASE("a log on change that is read as a steady one claims no film: step and shutter are said once") {
  Csv log(2);
  std::vector<std::string> last(log.rows.front().size());
  for (auto& row : log.rows) {
    for (std::size_t c = 1; c < row.size(); ++c) {
      const std::string now = row[c];
      if (now == last[c]) row[c].clear();
      last[c] = now;
    }
  }
  const Account a = log.account();
  CHECK(!a.film.claimed);
  CHECK(a.film.why_not.find("on_change") != std::string::npos);
  plan::ChannelMap map = sample_map();
  map.logging = plan::Logging::on_change;
  CHECK(log.read(sample_plan(), map).film.claimed);
}

TEST_CASE("a hole's estimate and bounds") {
  const double w = 15e3, rated_w = 20e3;
  Hole::Device device;
  device.rated_w = rated_w;
  device.power_usual_s = device.shutter_usual_s = 1;
  SUBCASE("brief: a straight line, and nothing between bounds") {
    Hole hole;
    hole.begin(at(0, w));
    hole.add(at(1, no_value));
    hole.add(at(2, 0.8 * w));
    const Hole::Laid laid = hole.lay(device, false);
    CHECK(laid.sum_j == doctest::Approx(2 * 0.9 * w));
    CHECK(laid.bounded_s == 0);
    CHECK(laid.standard_j() == 0);
    CHECK(laid.edges_j2 == doctest::Approx(std::pow(0.2 * w * 2, 2) / 12));
    CHECK(hole.unread() == 1);
    // In a log on change the old power stands until the next.
    CHECK(hole.lay(device, true).sum_j == doctest::Approx(2 * w));
  }
  SUBCASE("long: anything between none and rated power") {
    Hole hole;
    hole.begin(at(0, w));
    for (int s = 1; s < 20; ++s) hole.add(at(s, no_value));
    hole.add(at(20, w));
    const Hole::Laid laid = hole.lay(device, false);
    CHECK(laid.sum_j == doctest::Approx(20 * w));
    CHECK(laid.low_j == 0);
    CHECK(laid.high_j == doctest::Approx(20 * rated_w));
    // JCGM 100: 4.3.7, and F.2.4.5 for the middle of the range, which lies 5 kW lower.
    CHECK(laid.standard_j() == doctest::Approx(20 * std::hypot(rated_w / std::sqrt(12.0), w - rated_w / 2)));
    device.counted_j = 200e3;
    device.count_slack_j = 3600;
    const Hole::Laid counted = hole.lay(device, false);
    CHECK(counted.by_counter);
    CHECK(counted.sum_j == doctest::Approx(200e3));
    CHECK(counted.low_j == doctest::Approx(196.4e3));
    CHECK(counted.high_j == doctest::Approx(203.6e3));
  }
  SUBCASE("a power that was read all along is no less known for a shutter that was not") {
    Hole hole;
    hole.begin(at(0, w));
    for (int s = 1; s < 20; ++s) hole.add(at(s, s < 10 ? w : 0, no_value));
    hole.add(at(20, 0));
    const Hole::Laid laid = hole.lay(device, false);
    CHECK(laid.shutter);
    CHECK(laid.sum_j == doctest::Approx(9.5 * w));
    CHECK(laid.high_j == doctest::Approx(9.5 * w));
    CHECK(laid.low_j == 0);
  }
  SUBCASE("rows missing: between a shut and an open shutter some of it, between two shut ones nothing") {
    for (const double open : {0.0, 1.0}) {
      Hole hole;
      hole.begin(at(0, w, 0));
      hole.add(at(30, w, open, true));
      const Hole::Laid laid = hole.lay(device, false);
      CHECK(laid.sum_j == doctest::Approx(15 * w * open));
      CHECK(laid.high_j == doctest::Approx(30 * rated_w * open));
    }
  }
  SUBCASE("nothing known on one side, on either, and more rows than are kept") {
    Hole hole;
    hole.begin(at(0, w));
    for (int r = 1; r <= 20'000; ++r) hole.add(at(0.1 * r, no_value));
    CHECK(hole.rows().size() <= Hole::most_rows);
    CHECK(hole.unread() == 20'000);
    CHECK(hole.lay(device, false).sum_j == doctest::Approx(2000 * w));
    Hole blind;
    blind.begin(at(0, no_value, no_value));
    blind.add(at(10, no_value, no_value, true));
    const Hole::Laid laid = blind.lay(device, false);
    CHECK(laid.sum_j == 0);
    CHECK(laid.high_j == doctest::Approx(10 * rated_w));
  }
}

TEST_CASE("a rhythm is heard after some equal distances, and only then") {
  Rhythm every, fifth, odd;
  for (int r = 0; r < 60; ++r) {
    every.row(1, true);
    fifth.row(1, r % 5 == 0);
    odd.row(1, r % 7 == 0 || r % 5 == 0);
    if (r == 9) CHECK(fifth.usual_s() == 0);
  }
  CHECK(every.usual_s() == 0);
  CHECK(fifth.usual_s() == 5);
  CHECK(odd.usual_s() == 0);
}

}  // namespace vacuary::run::test
