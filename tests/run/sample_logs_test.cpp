// The sample logs as a person has them: through the reader, with the sample channel map.
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>

#include "rehearse/rehearse.hpp"
#include "run/both_ways.hpp"

namespace vacuary::run::test {
namespace {

Account read_log(const std::filesystem::path& file, const plan::ChannelMap& map) {
  auto made = account_both_ways(file, map);
  REQUIRE(made.has_value());
  return std::move(made).value();
}

Account sample(const std::string& name) {
  return read_log(std::string(VACUARY_SOURCE_DIR) + "/logs-example/" + name, sample_map());
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
  // The mean is well inside; the trip's thin sector makes the film more uneven than is wanted.
  CHECK(a.verdict == Verdict::out_of_limits);
}

TEST_CASE("a log on change says what a periodic one says, and a gauge that is off is off") {
  plan::ChannelMap map = sample_map();
  map.logging = plan::Logging::on_change;
  const auto file = std::filesystem::temp_directory_path() / "vacuary-on-change-test.csv";
  rehearse::Options options;
  options.seed = 2;
  Account accounts[2];
  for (const bool on_change : {false, true}) {
    options.map = on_change ? &map : &sample_map();
    std::ofstream(file, std::ios::binary) << rehearse::rehearse(sample_plan(), options).value().log_csv;
    accounts[on_change ? 1 : 0] = read_log(file, *options.map);
  }
  std::filesystem::remove(file);
  const Account &periodic = accounts[0], &on_change = accounts[1];
  INFO(rules_of(on_change));
  CAPTURE(on_change.reasons.back());
  CHECK(on_change.deviations.size() == periodic.deviations.size());
  CHECK(on_change.verdict == periodic.verdict);
  CHECK(on_change.film.mean.value.value() ==
        doctest::Approx(periodic.film.mean.value.value()).epsilon(0.003));
}

// The truth is the run's own: nothing is missing, and the clock was set 400 s into the film.
TEST_CASE("a log on change whose clock is set: told by the counter, and the film is whole") {
  plan::ChannelMap map = sample_map();
  map.logging = plan::Logging::on_change;
  const auto file = std::filesystem::temp_directory_path() / "vacuary-on-change-clock-test.csv";
  rehearse::Options options;
  options.seed = 2;
  options.map = &map;
  const auto account_with = [&](const std::string& fault) {
    options.faults.clear();
    if (!fault.empty()) options.faults.push_back(rehearse::parse_fault(fault).value());
    std::ofstream(file, std::ios::binary) << rehearse::rehearse(sample_plan(), options).value().log_csv;
    return read_log(file, map);
  };
  const Account right = account_with("");
  CHECK(all_of(right, "clock-step").empty());
  for (const char* fault : {"clock-step:by=2s", "clock-step:by=-3s", "clock-step:by=3600s"}) {
    CAPTURE(fault);
    const Account a = account_with(fault);
    INFO(rules_of(a));
    REQUIRE(one_of(a, "clock-step") != nullptr);
    CHECK(one_of(a, "clock-step")->origin == Origin::log);
    CHECK(one_of(a, "clock-step")->step == "coat");
    CHECK(a.deviations.size() == right.deviations.size() + 1);
    CHECK(a.film.mean.value.value() * 1e9 ==
          doctest::Approx(right.film.mean.value.value() * 1e9).epsilon(3e-4));
  }
  std::filesystem::remove(file);
}

}  // namespace vacuary::run::test
