// Nothing in an account may depend on how its rows were cut into blocks and stretches, to the last bit.
#include <doctest/doctest.h>

#include <string>

#include "report/report.hpp"
#include "run/rehearsed.hpp"

namespace vacuary::run::test {
namespace {

PlainLog rehearsed_log(const plan::ChannelMap& map, const std::vector<std::string>& faults) {
  rehearse::Options options;
  options.seed = 8;
  options.map = &map;
  for (const std::string& fault : faults) options.faults.push_back(rehearse::parse_fault(fault).value());
  const auto made = rehearse::rehearse(sample_plan(), options);
  REQUIRE(made.has_value());
  return read_plainly(made.value().log_csv, sample_plan().chamber.reference);
}

void same_however_cut(const plan::ChannelMap& map, const std::vector<std::string>& faults) {
  CAPTURE(faults);
  const PlainLog log = rehearsed_log(map, faults);
  const std::string whole = report::account_json(account_of(sample_plan(), map, log, log.block.rows()));
  CHECK(report::account_json(account_of(sample_plan(), map, log, 41, true)) == whole);
}

// Rows every tenth of a second while a discharge burns: long stretches.
plan::ChannelMap fast_map() {
  plan::ChannelMap map = sample_map();
  map.period = Duration::from_value(5);
  for (auto& one : map.step_periods) one.period = one.period * 0.1;
  return map;
}

plan::ChannelMap on_change_map() {
  plan::ChannelMap map = sample_map();
  map.logging = plan::Logging::on_change;
  map.period.reset();
  map.step_periods.clear();
  return map;
}

}  // namespace

TEST_CASE("rows alone, in small blocks and in one block: the same account of every fault") {
  for (const rehearse::FaultKind& kind : rehearse::fault_kinds()) {
    const std::string device = kind.name == "frozen" ? ":device=cathode-supply" : "";
    same_however_cut(sample_map(), {kind.name + device});
  }
}

TEST_CASE("the same of faults together, in slow, fast and on-change logs") {
  const std::vector<std::string> one = {
      "trip",       "gap:at=350s", "frozen:device=cathode-supply,at=420s,lasts=30s", "stall:at=100s",
      "shaft-seal", "cryo-warm",   "frozen:device=argon,at=425s,lasts=33s"};
  const std::vector<std::string> other = {
      "arc-burst", "clock-step:at=300s,by=30s", "range-jump", "half-shutter", "slip", "leak", "wet-load"};
  for (const plan::ChannelMap& map : {sample_map(), fast_map(), on_change_map()}) {
    same_however_cut(map, one);
    same_however_cut(map, other);
    const PlainLog log = rehearsed_log(map, one);
    CHECK(report::account_json(account_of(sample_plan(), map, log, 41)) ==
          report::account_json(account_of(sample_plan(), map, log)));
  }
}

TEST_CASE("a clean run logged ten times a second: no deviation") {
  const plan::ChannelMap map = fast_map();
  const Account a = account_of(sample_plan(), map, rehearsed_log(map, {}));
  INFO(rules_of(a));
  CHECK(a.verdict == Verdict::within_limits);
  CHECK(a.deviations.empty());
}

}  // namespace vacuary::run::test
