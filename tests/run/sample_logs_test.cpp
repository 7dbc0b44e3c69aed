// The sample logs as a person has them: through the reader, with the sample channel map.
#include <doctest/doctest.h>

#include <cmath>

#include "run/hand.hpp"

namespace vacuary::run::test {
namespace {

Account sample(const std::string& name) {
  log::Options options;
  options.wanted = wanted_channels(sample_plan(), sample_map());
  options.gas = sample_plan().chamber.reference;
  auto reader =
      log::Reader::open({std::string(VACUARY_SOURCE_DIR) + "/logs-example/" + name}, sample_map(), options);
  REQUIRE_MESSAGE(reader.ok(), to_text(reader.diagnostics()));
  auto made = account(sample_plan(), sample_map(), reader.value());
  REQUIRE(made.has_value());
  return std::move(made).value();
}

}  // namespace

TEST_CASE("clean.csv is within limits and asks for nothing") {
  const Account a = sample("clean.csv");
  INFO(rules_of(a));
  CHECK(a.film.claimed);
  CHECK(a.verdict == Verdict::within_limits);
  CHECK(a.deviations.empty());
  CHECK(a.missing.empty());
}

TEST_CASE("troubled.csv: leak, trip, gap and sag, in that order, and nothing else") {
  const Account a = sample("troubled.csv");
  INFO(rules_of(a));
  REQUIRE(a.deviations.size() == 4);
  CHECK(a.deviations[0].rule == "slow-leak");
  CHECK(a.deviations[1].rule == "power-interruption");
  CHECK(a.deviations[2].rule == "log-gap");
  CHECK(a.deviations[3].rule == "gas-sag");
  for (const Deviation& d : a.deviations) {
    CHECK_FALSE(d.effect.empty());
    CHECK_FALSE(d.advice.empty());
  }
  CHECK(a.film.claimed);
  CHECK(a.verdict == Verdict::review);
}

}  // namespace vacuary::run::test
