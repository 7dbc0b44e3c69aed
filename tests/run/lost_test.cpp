// Where a log's time begins again or runs back, film is not what is left of the rows: it is known by the
// counter, or none is claimed.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "run/csv.hpp"

namespace vacuary::run::test {
namespace {

constexpr std::int64_t ns_per_s = 1'000'000'000;

// Stamps as elapsed seconds, from 0 again at a row; `silent` rows before it were not written.
Account restarted(const Csv& log, std::size_t at, std::size_t silent, bool counter) {
  Csv again = log;
  const Instant start = log.time(0), second = log.time(at);
  for (std::size_t r = 0; r < log.rows.size(); ++r) {
    const Instant zero = r < at ? start : second;
    again.rows[r][0] = fmt::format("{:.3f}", static_cast<double>(log.time(r).ns - zero.ns) * 1e-9);
    if (!counter) again.cell(r, "cathode-supply.energy").clear();
  }
  again.rows.erase(again.rows.begin() + static_cast<std::ptrdiff_t>(at - silent),
                   again.rows.begin() + static_cast<std::ptrdiff_t>(at));
  plan::ChannelMap map = sample_map();
  map.time_form = plan::TimeForm::elapsed_s;
  map.start = start;
  return again.read(sample_plan(), map);
}

}  // namespace

TEST_CASE(
    "a logger that began to count again in the film: the counter says what was laid, else none is claimed") {
  const Csv log(2);
  const Account whole = log.read();
  const std::size_t at = log.film_from + 300;
  for (const std::size_t silent : {0U, 60U}) {
    CAPTURE(silent);
    const Account a = restarted(log, at, silent, true);
    INFO(rules_of(a));
    REQUIRE(a.film.claimed);
    CHECK(std::abs(mean_nm(a) - mean_nm(whole)) < 0.2);
    CHECK(one_of(a, "clock-step") != nullptr);
    const Account blind = restarted(log, at, silent, false);
    CHECK(!blind.film.claimed);
    CHECK(blind.film.why_not.find("from 0 again") != std::string::npos);
  }
  // Before the film it is none of the film's.
  CHECK(restarted(log, log.film_from - 100, 0, false).film.claimed);
}

TEST_CASE(
    "a clock set back by half an hour in the film loses the rest of it: not claimed, or with that doubt") {
  const Csv log(2);
  const Account whole = log.read();
  for (const bool counter : {true, false}) {
    CAPTURE(counter);
    Csv back = log;
    for (std::size_t r = 0; r < log.rows.size(); ++r) {
      if (r >= log.film_from + 300) back.rows[r][0] = to_rfc3339(Instant{log.time(r).ns - 1800 * ns_per_s});
      if (!counter) back.cell(r, "cathode-supply.energy").clear();
    }
    const Account a = back.read();
    INFO(rules_of(a));
    if (a.film.claimed) {
      CHECK(std::abs(mean_nm(a) - mean_nm(whole)) < half_nm(a));
      CHECK(half_nm(a) > 15);
    } else {
      CHECK(a.film.why_not.find("go back in time") != std::string::npos);
    }
    CHECK((a.film.claimed || !counter));
  }
}

TEST_CASE("files of a run in the wrong order claim nothing") {
  const Csv log(2);
  Csv wrong = log;
  std::rotate(wrong.rows.begin(), wrong.rows.begin() + static_cast<std::ptrdiff_t>(log.film_from + 300),
              wrong.rows.end());
  const Account a = wrong.read();
  CHECK(!a.film.claimed);
  CHECK(a.film.why_not.find("in order") != std::string::npos);
}

TEST_CASE("a run over midnight whose stamps have no date is one run") {
  const Csv log(2);
  const Account whole = log.read();
  Csv midnight = log;
  const std::int64_t day_ns = 86400 * ns_per_s;
  const std::int64_t off_ns = day_ns - log.time(log.film_from + 300).ns % day_ns;
  for (std::size_t r = 0; r < log.rows.size(); ++r) {
    const std::int64_t of_day = (log.time(r).ns + off_ns) % day_ns;
    midnight.rows[r][0] = to_rfc3339(Instant{log.time(0).ns / day_ns * day_ns + of_day});
  }
  const Account a = midnight.read();
  REQUIRE(a.film.claimed);
  CHECK(mean_nm(a) == doctest::Approx(mean_nm(whole)).epsilon(1e-6));
  CHECK(half_nm(a) == doctest::Approx(half_nm(whole)).epsilon(1e-3));
}

}  // namespace vacuary::run::test
