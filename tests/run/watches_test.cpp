// What tells two causes of one look apart: an optic that stands from a reading that stands, a late
// switch from a late shutter, a warm pump from a turning leak, water from oxide.
#include <doctest/doctest.h>

#include <cmath>

#include "run/hand.hpp"
#include "run/row.hpp"

namespace vacuary::run::test {
namespace {

constexpr double degree = turn_rad / 360;

// A film of six turns, row by row; `change` says what is different at a second of it.
template <class Change>
Account film(const Change& change) {
  Hand hand;
  hand.wobble = 0.0005;
  for (int second = 0; second <= 720; ++second) {
    change(hand, second);
    hand.run(1);
  }
  return hand.account();
}

// The same with ten rows a second that all are dated by whole seconds; how often they come is not stated.
template <class Change>
Account film_by_whole_seconds(const Change& change) {
  plan::ChannelMap map = sample_map();
  map.period.reset();
  map.step_periods.clear();
  Hand hand;
  hand.wobble = 0.0005;
  for (int second = 0; second <= 720; ++second) {
    change(hand, second);
    hand.run(1, 0.1);
  }
  PlainLog log = hand.log();
  for (Instant& time : log.block.time) time.ns -= time.ns % 1'000'000'000;
  return account_of(sample_plan(), map, log);
}

}  // namespace

TEST_CASE("an optic that stood goes on from there: a stall; a reading that stood goes on from elsewhere") {
  const Account stall = film([](Hand& hand, int s) { hand.turning = s < 200 || s >= 210; });
  CHECK(one_of(stall, "rotation-stall") != nullptr);
  CHECK(all_of(stall, "frozen-channels").empty());
  const Account frozen = film([](Hand& hand, int s) { hand.frozen_optic = s >= 200 && s < 210; });
  INFO(rules_of(frozen));
  const Deviation* d = one_of(frozen, "frozen-channels");
  REQUIRE(d != nullptr);
  CHECK(d->origin == Origin::instrument);
  CHECK(d->channel == "optic.angle");
  CHECK(all_of(frozen, "rotation-stall").empty());
  // A whole turn of standing digits: both go on from the same place, and the speed's digits tell.
  const Account turn = film([](Hand& hand, int s) { hand.frozen_optic = s >= 200 && s < 320; });
  CHECK(all_of(turn, "rotation-stall").empty());
  CHECK(one_of(turn, "frozen-channels") != nullptr);
}

TEST_CASE("an optic that turns between rows of one stamp turns; one that stands there stands") {
  const Account turning = film_by_whole_seconds([](Hand&, int) {});
  INFO(rules_of(turning));
  CHECK(all_of(turning, "rotation-stall").empty());
  CHECK(all_of(turning, "frozen-channels").empty());
  const Account stall = film_by_whole_seconds([](Hand& hand, int s) { hand.turning = s < 200 || s >= 220; });
  INFO(rules_of(stall));
  const Deviation* d = one_of(stall, "rotation-stall");
  REQUIRE(d != nullptr);
  CHECK(std::abs(since_start_s(stall, d->start) - 200) <= 1);
  CHECK(std::abs(since_start_s(stall, d->end) - 220) <= 1);
}

TEST_CASE("an index that creeps by a degree a turn shows over six turns, a steady one never") {
  for (const double creep_deg : {0.0, 0.2, 1.5, -1.5, 3.0}) {
    CAPTURE(creep_deg);
    const Account a = film([&](Hand& hand, int s) { hand.index_lag_rad = creep_deg * degree * s / 120; });
    const Deviation* d = one_of(a, "rotation-slip");
    REQUIRE((d != nullptr) == (std::abs(creep_deg) > 1));
    if (d == nullptr) continue;
    CHECK(*d->worst == doctest::Approx(creep_deg).epsilon(0.4));
    CHECK(d->origin == Origin::process);
  }
}

TEST_CASE("a shutter shown open from one row to the next, but slow to close: its switch was late") {
  const auto opening = [](double late_s, bool jumps) {
    return [=](Hand& hand, int s) {
      const double true_open = std::clamp((s - 0.5) / 2, 0.0, 1.0) * std::clamp((719.5 - s) / 4, 0.0, 1.0);
      const double shown_late = std::clamp((s - late_s - 0.5) / 2, 0.0, 1.0);
      hand.open = jumps ? (s < late_s ? 0 : true_open) : std::min(true_open, shown_late);
    };
  };
  const Account late = film(opening(8, true));
  INFO(rules_of(late));
  const Deviation* d = one_of(late, "limit-switch-late");
  REQUIRE(d != nullptr);
  CHECK(d->origin == Origin::instrument);
  CHECK(*d->worst == doctest::Approx(8).epsilon(0.15));
  CHECK(all_of(late, "shutter-late").empty());
  // What may not have been counted stands in the budget: 8 s of 0.125 nm/s, rectangular.
  const Account sound = film(opening(0, false));
  const double more = std::sqrt(std::pow(late.film.mean.standard_uncertainty.value() * 1e9, 2) -
                                std::pow(sound.film.mean.standard_uncertainty.value() * 1e9, 2));
  CHECK(more == doctest::Approx(8 * 0.125 / std::sqrt(3)).epsilon(0.2));
  CHECK(all_of(sound, "limit-switch-late").empty());
  // A shutter that is seen on its way is late itself.
  const Account slow = film(opening(8, false));
  CHECK(one_of(slow, "shutter-late") != nullptr);
  CHECK(all_of(slow, "limit-switch-late").empty());
}

TEST_CASE("pressure that creeps up at one flow is the pump's when the pump warms, else nobody knows whose") {
  for (const bool warms : {true, false}) {
    CAPTURE(warms);
    const Account a = film([&](Hand& hand, int s) {
      hand.manometer_pa = 0.29 * std::exp(s * 1e-4);
      hand.cryo_k = 12 + (warms ? s * 0.005 : 0);
    });
    INFO(rules_of(a));
    const Deviation* d = one_of(a, warms ? "pump-warm" : "pressure-without-gas");
    REQUIRE(d != nullptr);
    CHECK(d->origin == Origin::process);
    CHECK(all_of(a, warms ? "pressure-without-gas" : "pump-warm").empty());
    // 7 % up over the film; the 3 % are passed after some 300 s, 20 rows of reference and the 40 s of
    // calm before them come first.
    CHECK(since_start_s(a, d->start) > 300);
    CHECK(since_start_s(a, d->start) < 400);
  }
  // A pump that warms is told even while it still holds the pressure.
  CHECK(one_of(film([](Hand& hand, int s) { hand.cryo_k = 12 + s * 0.008; }), "pump-warm") != nullptr);
  CHECK(all_of(film([](Hand& hand, int s) { hand.cryo_k = 12 + s * 0.001; }), "pump-warm").empty());
}

TEST_CASE("a pump whose temperature is not read is not warm; once it is read, its warming shows") {
  const auto read_but = [](int from, int to, double warmer_k) {
    return film([=](Hand& hand, int s) {
      const double warming = std::clamp((s - 250) / 100.0, 0.0, 1.0);
      hand.cryo_k = s >= from && s < to ? Hand::no_reading() : 12 + warmer_k * warming;
    });
  };
  struct Missing {
    int from, to;
  };
  // From the first row past the reference, into it, somewhere in it, behind it.
  for (const auto& [from, to] : {Missing{0, 100}, Missing{0, 50}, Missing{45, 55}, Missing{300, 420}}) {
    CAPTURE(from);
    CAPTURE(to);
    const Account still = read_but(from, to, 0);
    INFO(rules_of(still));
    CHECK(all_of(still, "pump-warm").empty());
    const Account warm = read_but(from, to, 3);
    INFO(rules_of(warm));
    const Deviation* d = one_of(warm, "pump-warm");
    REQUIRE(d != nullptr);
    CHECK(*d->worst == doctest::Approx(15).epsilon(0.001));
  }
}

TEST_CASE("a second pump that is read only later, and always was the warmer one, does not warm") {
  plan::Plan plan = sample_plan();
  for (const plan::Pump& pump : sample_plan().chamber.pumps) {
    if (pump.name.value == "cryo") plan.chamber.pumps.push_back(pump);
  }
  plan.chamber.pumps.back().name.value = "cryo-2";
  for (const double warmer_k : {0.0, 3.0}) {
    CAPTURE(warmer_k);
    Hand hand;
    hand.wobble = 0.0005;
    hand.run(721);
    PlainLog log = hand.log();
    const int first = log.header.find(*plan::parse_channel("cryo.temperature"));
    log::ChannelInfo info = log.header.channels[static_cast<std::size_t>(first)];
    info.channel.device = "cryo-2";
    log.header.channels.push_back(info);
    log.block.texts.emplace_back();
    auto& values = log.block.values.emplace_back();
    for (int s = 0; s < 721; ++s)
      values.push_back(s < 100 ? Hand::no_reading()
                               : 15 + warmer_k * std::clamp((s - 250) / 100.0, 0.0, 1.0));
    const Account a = account_of(plan, sample_map(), log);
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "pump-warm");
    REQUIRE((d != nullptr) == (warmer_k > 0));
    if (d == nullptr) continue;
    CHECK(d->channel == "cryo-2.temperature");
    CHECK(*d->worst == doctest::Approx(18).epsilon(0.001));
  }
}

TEST_CASE("a flow that is off from the first row: the log does not say whether it or its reading is wrong") {
  for (const double share : {0.7, 1.3, 0.0}) {
    CAPTURE(share);
    Hand hand;
    hand.argon_mol_s *= share;
    hand.run(721);
    const Account a = hand.account();
    INFO(rules_of(a));
    CHECK(all_of(a, "flow-reading-off").empty());
    const Deviation* d = one_of(a, share > 1 ? "gas-surge" : share > 0 ? "gas-sag" : "gas-missing");
    REQUIRE(d != nullptr);
    CHECK(d->origin == Origin::process);
    CHECK(d->severity == Severity::warning);  // a person looks at it
    CHECK(d->effect.find("does not tell a wrong flow from a wrong reading") != std::string::npos);
    // There is nothing before it that the pressure, or the film, could be held against.
    CHECK(d->effect.find("the pressure followed") == std::string::npos);
    CHECK_FALSE(d->mean_change);
  }
}

TEST_CASE("pressure that pulses with the turn is the shaft's; at any other beat it is not") {
  for (const double period_s : {120.0, 100.0, 60.0}) {
    CAPTURE(period_s);
    const Account a = film([&](Hand& hand, int s) {
      hand.manometer_pa = 0.30 * (1 + 0.03 * std::cos(turn_rad * s / period_s));
    });
    INFO(rules_of(a));
    CHECK((one_of(a, "shaft-seal") != nullptr) == (period_s == 120.0));
  }
  // Once is no rhythm.
  const Account once = film([](Hand& hand, int s) { hand.manometer_pa = s > 200 && s < 260 ? 0.32 : 0.30; });
  CHECK(all_of(once, "shaft-seal").empty());
}

TEST_CASE("a voltage that stays low is water's, one that climbs is oxide's") {
  const Account wet = film([](Hand& hand, int) { hand.voltage_v = 400; });
  REQUIRE(one_of(wet, "target-wet") != nullptr);
  CHECK(all_of(wet, "target-not-conditioned").empty());
  const Account oxide = film([](Hand& hand, int s) { hand.voltage_v = 480 - 100 * std::exp(-s / 200.0); });
  REQUIRE(one_of(oxide, "target-not-conditioned") != nullptr);
  CHECK(all_of(oxide, "target-wet").empty());
}

TEST_CASE("a target that has not settled is told with the row its last minute begins with") {
  for (const double every_s : {1.0, 0.2, 0.7}) {
    CAPTURE(every_s);
    Hand hand;
    hand.step("condition target");
    hand.open = 0;
    for (int i = 0; i * every_s < 300; ++i) {
      hand.voltage_v = 440 + 0.1 * i * every_s;
      hand.run(every_s, every_s);
    }
    const std::size_t rows = hand.log().block.rows();
    hand.step("coat");
    hand.open = 1;
    hand.voltage_v = 480;
    hand.run(700);
    const Account a = hand.account();
    const Deviation* d = one_of(a, "target-not-settled");
    REQUIRE(d != nullptr);
    const PlainLog log = hand.log();
    CHECK(d->start == log.block.time[d->line.number - 2]);
    CHECK(d->line.number < rows);
    CHECK(seconds(d->start, d->end) == doctest::Approx(60).epsilon(0.03));
  }
}

TEST_CASE("a manometer's zero that moves while there is nothing to see is its own doing") {
  for (const double moved_pa : {0.0, 0.001, 0.02}) {
    CAPTURE(moved_pa);
    Hand hand;
    hand.step("pump to base");
    hand.argon_mol_s = hand.power_w = hand.voltage_v = hand.open = hand.speed_rad_s = 0;
    hand.ion_pa = 2e-4;
    for (int i = 0; i < 120; ++i) {
      hand.manometer_pa = 0.01 + (i >= 60 ? moved_pa : 0) + 2e-4 * std::sin(2.3 * i);
      hand.run(30, 30);
    }
    const Account a = hand.account();
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "gauge-zero");
    REQUIRE((d != nullptr) == (moved_pa > 0.01));
    if (d == nullptr) continue;
    CHECK(d->origin == Origin::instrument);
    CHECK(d->severity == Severity::note);
    CHECK(*d->worst == doctest::Approx(moved_pa).epsilon(0.05));
    CHECK(std::abs(since_start_s(a, d->end) - 1800) < 31);
  }
}

TEST_CASE("a gauge that changes its range jumps, stays and jumps back; a spike is none") {
  for (const int rows : {1, 20}) {
    CAPTURE(rows);
    Hand hand;
    hand.wobble = 0.006;
    hand.step("pump to base");
    hand.argon_mol_s = hand.power_w = hand.voltage_v = hand.open = hand.speed_rad_s = 0;
    hand.manometer_pa = 0.01;
    for (int i = 0; i < 120; ++i) {
      hand.ion_pa = 3e-4 * (i >= 60 && i < 60 + rows ? 3 : 1);
      hand.run(30, 30);
    }
    const Account a = hand.account();
    INFO(rules_of(a));
    const Deviation* d = one_of(a, "gauge-jump");
    REQUIRE((d != nullptr) == (rows > 1));
    if (d != nullptr) CHECK(*d->worst == doctest::Approx(3).epsilon(0.03));
  }
}

}  // namespace vacuary::run::test
