// Cells that say nothing, numbers that cannot be, and stamps that are rounded: none of it may change the
// film in silence. Rehearsed logs, whose film is known from the log as it was.
#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <sstream>

#include "run/rehearsed.hpp"

namespace vacuary::run::test {
namespace {

// Column of a header name; the time is 0.
std::size_t column_of(const std::string& header, const std::string& name) {
  const std::vector<std::string> heads = cells_of(header);
  for (std::size_t c = 0; c < heads.size(); ++c) {
    if (heads[c].rfind(name, 0) == 0) return c;
  }
  FAIL("no such column");
  return 0;
}

struct Csv {
  std::string header;
  std::vector<std::vector<std::string>> rows;
  std::size_t film_from = 0;  // the first row of the film step

  explicit Csv(std::uint64_t seed) {
    rehearse::Options options;
    options.seed = seed;
    options.map = &sample_map();
    const auto made = rehearse::rehearse(sample_plan(), options);
    REQUIRE(made.has_value());
    std::istringstream in(made.value().log_csv);
    std::getline(in, header);
    const std::size_t step = column_of(header, "run.step");
    for (std::string line; std::getline(in, line);) {
      rows.push_back(cells_of(line));
      if (film_from == 0 && rows.back()[step] == "coat") film_from = rows.size() - 1;
    }
  }
  std::string& cell(std::size_t row, const std::string& name) { return rows[row][column_of(header, name)]; }
  [[nodiscard]] Account account() const {
    std::string text = header + "\n";
    for (const auto& row : rows) {
      for (std::size_t c = 0; c < row.size(); ++c) text += (c > 0 ? "," : "") + row[c];
      text += "\n";
    }
    return account_of(sample_plan(), sample_map(), read_plainly(text, sample_plan().chamber.reference));
  }
  // Each row of the film dated anew: by its number within it.
  void date_film(const std::function<std::int64_t(std::int64_t)>& second) {
    Instant start;
    REQUIRE(from_rfc3339(rows[film_from][0], start));
    const std::size_t step = column_of(header, "run.step");
    for (std::size_t r = film_from; r < rows.size() && rows[r][step] == "coat"; ++r) {
      const auto n = static_cast<std::int64_t>(r - film_from);
      rows[r][0] = to_rfc3339(Instant{start.ns + second(n) * 1'000'000'000});
    }
  }
};

double mean_nm(const Account& a) { return a.film.mean.value.value() * 1e9; }
double half_nm(const Account& a) { return 2e9 * a.film.mean.standard_uncertainty.value(); }

}  // namespace

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
