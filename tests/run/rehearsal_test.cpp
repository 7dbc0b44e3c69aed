// End to end on rehearsed runs, whose truth is known and which share no film code with `run`.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>

#include "rehearse/rehearse.hpp"
#include "run/hand.hpp"

namespace vacuary::run::test {
namespace {

struct Rehearsed {
  Account account;
  double true_mean_nm = 0;
};

// The first "mean_nm" under "film" of the side file.
double true_mean_nm(const std::string& truth) {
  const std::size_t film = truth.find("\"film\"");
  const std::size_t at = truth.find("\"mean_nm\":", film == std::string::npos ? 0 : film);
  return std::strtod(truth.c_str() + at + 10, nullptr);
}

Rehearsed rehearsed(std::uint64_t seed, const std::vector<std::string>& faults = {}) {
  rehearse::Options options;
  options.seed = seed;
  options.map = &sample_map();
  for (const std::string& fault : faults) options.faults.push_back(rehearse::parse_fault(fault).value());
  const auto made = rehearse::rehearse(sample_plan(), options);
  REQUIRE(made.has_value());
  const PlainLog log = read_plainly(made.value().log_csv, sample_plan().chamber.reference);
  return {account_of(sample_plan(), sample_map(), log), true_mean_nm(made.value().truth_json)};
}

}  // namespace

TEST_CASE("a clean rehearsal: within limits, the true mean inside the interval, no deviation") {
  for (const std::uint64_t seed : {2U, 4U, 5U}) {
    CAPTURE(seed);
    const Rehearsed run = rehearsed(seed);
    const Film& film = run.account.film;
    INFO(rules_of(run.account));
    REQUIRE(film.claimed);
    CHECK(std::abs(film.mean.value.value() * 1e9 - run.true_mean_nm) <
          2 * film.mean.standard_uncertainty.value() * 1e9);
    CHECK(run.account.verdict == Verdict::within_limits);
    CHECK(run.account.deviations.empty());
    for (const StepAccount& step : run.account.steps) CHECK(step.found);
  }
}

TEST_CASE("a troubled rehearsal: trip, sag, leak and gap, each once and nothing else") {
  const Rehearsed run =
      rehearsed(2, {"trip:at=200s,lasts=4s", "gap:at=330s,lasts=20s", "argon-sag:at=420s,lasts=90s,depth=25%",
                    "leak:at=30min,size=1e-3mbar L/s,grows=20min"});
  const Account& a = run.account;
  INFO(rules_of(a));
  REQUIRE(a.steps[4].found);
  const auto since_film_s = [&](Instant t) { return static_cast<double>(t.ns - a.steps[4].start.ns) * 1e-9; };
  const Deviation* trip = one_of(a, "power-interruption");
  REQUIRE(trip != nullptr);
  CHECK(std::abs(since_film_s(trip->start) - 200) < 3);
  CHECK(trip->origin == Origin::process);
  const Deviation* gap = one_of(a, "log-gap");
  REQUIRE(gap != nullptr);
  CHECK(std::abs(since_film_s(gap->start) - 330) < 3);
  CHECK(gap->origin == Origin::log);
  const Deviation* sag = one_of(a, "gas-sag");
  REQUIRE(sag != nullptr);
  CHECK(std::abs(since_film_s(sag->start) - 420) < 10);
  CHECK(sag->origin == Origin::process);
  const Deviation* leak = one_of(a, "slow-leak");
  REQUIRE(leak != nullptr);
  CHECK(leak->step == "pump to base");
  CHECK(a.deviations.size() == 4);
  REQUIRE(a.film.claimed);
  CHECK(std::abs(a.film.mean.value.value() * 1e9 - run.true_mean_nm) <
        2 * a.film.mean.standard_uncertainty.value() * 1e9);
  // The mean is inside, but the trip's thin sector makes the film more uneven than is wanted.
  CHECK(a.verdict == Verdict::out_of_limits);
}

TEST_CASE("faults of instruments and logger are not called the process") {
  for (const char* fault : {"frozen", "clock-step", "range-jump"}) {
    CAPTURE(fault);
    const Account a = rehearsed(2, {fault}).account;
    CHECK_FALSE(a.deviations.empty());
    for (const Deviation& d : a.deviations) {
      CAPTURE(d.rule);
      CHECK(d.origin != Origin::process);
    }
    CHECK(a.film.claimed);
  }
}

TEST_CASE("a weep of water keeps the film from being claimed") {
  const Account a = rehearsed(2, {"water-weep"}).account;
  CHECK_FALSE(a.film.claimed);
  CHECK(one_of(a, "target-wet") != nullptr);
  CHECK(one_of(a, "target-not-conditioned") == nullptr);
  CHECK(a.verdict == Verdict::review);
}

}  // namespace vacuary::run::test
