// The film by energy, against an oracle that adds it up the obvious way, and what takes away the
// right to claim it.
#include <doctest/doctest.h>

#include <cmath>

#include "run/hand.hpp"

namespace vacuary::run::test {
namespace {

// 30 nm/kWh hold at the calibration's radius; the mean over the clear area is a little less.
double area_mean() {
  return model::clear_area_mean(sample_plan().chamber.cathodes.front(), *sample_plan().optic).value.value();
}

double nm_of(const Account& account) { return account.film.mean.value.value() * 1e9; }

// Trapezoid over all pairs of neighbouring rows of the whole log, kappa at each row from the model.
double slow_film_m(const PlainLog& log) {
  const plan::Chamber& chamber = sample_plan().chamber;
  const plan::Cathode& cathode = chamber.cathodes.front();
  const auto column = [&](const char* name) {
    return log.block.values[static_cast<std::size_t>(log.header.find(plan::parse_channel(name).value()))];
  };
  const auto p = column("manometer.pressure");
  const auto power = column("cathode-supply.power");
  const auto volt = column("cathode-supply.voltage");
  const auto open = column("cathode.open");
  long double film = 0;
  long double energy = 0;
  double kappa_before = 0;
  for (std::size_t i = 0; i < log.block.rows(); ++i) {
    const double kappa =
        model::film_per_energy(chamber, cathode, Voltage::from_value(volt[i]), Pressure::from_value(p[i]),
                               cathode.energy_used.value + Energy::from_value(static_cast<double>(energy)))
            .value.value.value();
    if (i > 0) {
      const double dt = static_cast<double>(log.block.time[i].ns - log.block.time[i - 1].ns) * 1e-9;
      film += 0.5L * dt * (power[i] * open[i] * kappa + power[i - 1] * open[i - 1] * kappa_before);
      energy += 0.5L * dt * (power[i] + power[i - 1]);
    }
    kappa_before = kappa;
  }
  return static_cast<double>(film) * model::clear_area_mean(cathode, *sample_plan().optic).value.value();
}

}  // namespace

TEST_CASE("six turns at 15 kW are 3 kWh and 90 nm") {
  Hand hand;
  hand.run(721);
  const Account a = hand.account();
  REQUIRE(a.film.claimed);
  // 30.0 nm/kWh at the calibrated state times 15 kW x 0.2 h; the target wears by 0.02 % meanwhile.
  CHECK(nm_of(a) == doctest::Approx(90.0 * area_mean()).epsilon(0.001));
  REQUIRE(a.film.parts.size() == 1);
  CHECK(a.film.parts[0].energy.value.value() == doctest::Approx(3.0 * 3.6e6).epsilon(1e-9));
  CHECK(a.film.parts[0].energy_counter->value() == doctest::Approx(3.0 * 3.6e6).epsilon(1e-9));
  CHECK(a.film.parts[0].turns->value() == doctest::Approx(6.0).epsilon(1e-6));
  CHECK(a.film.mean.standard_uncertainty.value() > 0.025 * a.film.mean.value.value());
  CHECK(a.film.mean.standard_uncertainty.value() < 0.040 * a.film.mean.value.value());
}

TEST_CASE("the film is the integral of kappa(V, p) P open dt, ramps included") {
  Hand hand;
  hand.power_w = 0;
  hand.voltage_v = 300;
  for (int i = 0; i < 10; ++i) {
    hand.power_w += 1500;
    hand.voltage_v += 18;
    hand.run(1);
  }
  hand.run(200);
  for (int i = 0; i < 60; ++i) {
    hand.manometer_pa = 0.30 - 0.0015 * i;
    hand.voltage_v = 480 + 0.3 * i;
    hand.run(1);
  }
  hand.open = 0.5;
  hand.run(20);
  hand.open = 1;
  hand.run(300);
  const PlainLog log = hand.log();
  const Account a = account_of(sample_plan(), sample_map(), log);
  REQUIRE(a.film.claimed);
  CHECK(a.film.mean.value.value() == doctest::Approx(slow_film_m(log)).epsilon(1e-9));
}

TEST_CASE("thinner argon lays more film for the same energy") {
  Hand usual;
  usual.run(721);
  Hand thin;
  thin.manometer_pa = 0.21;
  thin.run(721);
  const double ratio = nm_of(thin.account()) / nm_of(usual.account());
  // Keller and Simmons with p0d0 10 Pa cm and a throw of 20 cm: x 0.42 against 0.60.
  const auto f = [](double x) { return (1 - std::exp(-x)) / x; };
  CHECK(ratio == doctest::Approx(f(0.42) / f(0.60)).epsilon(1e-3));
}

TEST_CASE("nothing is laid behind a closed shutter") {
  Hand hand;
  hand.step("condition target");
  hand.open = 0;
  hand.run(300);
  const Account a = hand.account();
  CHECK_FALSE(a.film.claimed);
  CHECK(a.film.why_not.find("no film was laid") != std::string::npos);
}

TEST_CASE("film laid in a step that should lay none is in the mean and is told") {
  Hand hand;
  hand.step("condition target");
  hand.run(60);
  hand.step("coat").run(721);
  const Account a = hand.account();
  CHECK(nm_of(a) == doctest::Approx(97.5).epsilon(0.002));
  REQUIRE(one_of(a, "film-outside-its-step") != nullptr);
  CHECK(one_of(a, "film-outside-its-step")->mean_change->value.value() * 1e9 ==
        doctest::Approx(7.4).epsilon(0.03));
}

TEST_CASE("without the voltage no thickness is claimed, and the log is asked for it") {
  Hand hand;
  hand.left_out = {"cathode-supply.voltage"};
  hand.run(721);
  const Account a = hand.account();
  CHECK_FALSE(a.film.claimed);
  CHECK(a.film.mean.value.value() == 0);
  CHECK(a.film.why_not.find("cathode-supply.voltage") != std::string::npos);
  REQUIRE_FALSE(a.missing.empty());
  CHECK(std::any_of(a.missing.begin(), a.missing.end(), [](const std::string& text) {
    return text.find("cathode-supply.voltage: without it no film thickness") == 0;
  }));
  CHECK(a.verdict == Verdict::review);
}

TEST_CASE("a target that was not conditioned takes the claim away and says for how long") {
  Hand hand;
  for (int i = 0; i < 240; ++i) {
    hand.voltage_v = 370 + i * 110.0 / 240;
    hand.run(1);
  }
  hand.voltage_v = 480;
  hand.run(481);
  const Account a = hand.account();
  CHECK_FALSE(a.film.claimed);
  CHECK(a.film.why_not.find("370") != std::string::npos);
  CHECK(a.film.why_not.find("times the calibrated") == std::string::npos);  // the gas was as it should be
  const Deviation* d = one_of(a, "target-not-conditioned");
  REQUIRE(d != nullptr);
  CHECK(d->origin == Origin::process);
  CHECK(*d->worst == doctest::Approx(370).epsilon(0.01));
  // In band from 455 V, 85 V up the slope of 110 V in 240 s.
  CHECK(since_start_s(a, d->end) == doctest::Approx(85.0 / 110 * 240).epsilon(0.02));
  CHECK(all_of(a, "limit-exceeded").empty());  // the voltage limit is part of it
}

// At 1.7 times the pressure the voltage falls by itself: no claim, and the reader is told what else it may
// be.
TEST_CASE("outside the band at another pressure: no claim, and the gas is named beside the target") {
  Hand hand;
  hand.run(360);
  hand.manometer_pa = 0.51;
  hand.voltage_v = 452;
  hand.run(361);
  const Account a = hand.account();
  CHECK_FALSE(a.film.claimed);
  CHECK(a.film.why_not.find("1.7 times the calibrated") != std::string::npos);
}

// 16 V low at the start and recovering with 300 s: by the integral 16 V 300 s (1 - exp(-720/300)) / 720 s
// = 6.06 V below the clean voltage on average. At most 30 % for 80 V (common practice), and a third of the
// relative voltage that the account takes for a higher yield, make 2.7 % of the film, over the square root
// of three.
TEST_CASE("a target that still settles inside its band widens the interval, a steady one does not") {
  Account accounts[3];
  for (int i = 0; i < 3; ++i) {
    Hand hand;
    for (int s = 0; s <= 720; ++s) {
      hand.voltage_v = i == 0 ? 480 : 480 - 16 * std::exp(-s / 300.0);
      if (i == 2) {  // and here it is the gas
        hand.voltage_v = s < 240 ? 465 : 480;
        hand.manometer_pa = s < 240 ? 0.40 : 0.30;
      }
      hand.run(1);
    }
    accounts[i] = hand.account();
    REQUIRE(accounts[i].film.claimed);
  }
  const auto line = [](const Account& a) {
    double relative = 0;
    for (const auto& one : a.film.budget) {
      if (one.input.find("still settling") != std::string::npos) relative = one.contribution.value();
    }
    return relative;
  };
  CHECK(line(accounts[0]) == 0);
  CHECK(line(accounts[1]) ==
        doctest::Approx(6.06 * (0.30 / 80 + 1.0 / 3 / 480) / std::sqrt(3.0)).epsilon(0.05));
  CHECK(line(accounts[2]) == 0);
  CHECK(accounts[1].film.mean.standard_uncertainty > accounts[0].film.mean.standard_uncertainty);
}

// The budget's contributions (JCGM 100, 5.1.3: c_i u_i) against what the whole account does when an input is
// moved up and down by its standard uncertainty, by central differences.
TEST_CASE("each budget line is what the film does when its input is moved") {
  struct Moved {
    double kappa = 1, power = 1, p0d0 = 1, wear = 1, pressure = 1;
  };
  const auto account = [](const Moved& by) {
    plan::Plan plan = sample_plan();
    plan::Cathode& cathode = plan.chamber.cathodes.front();
    cathode.calibration.film_per_energy.value = cathode.calibration.film_per_energy.value * by.kappa;
    cathode.p0d0.value = cathode.p0d0.value * by.p0d0;
    cathode.energy_used.value = Energy::from_value(900 * 3.6e6);  // far from the calibration's 420 kWh
    cathode.rate_loss_over_life.value = Ratio::of(cathode.rate_loss_over_life.value.value() * by.wear);
    Hand hand;
    hand.power_w *= by.power;
    hand.manometer_pa = 0.4 * by.pressure;  // calibrated at 0.3 Pa
    hand.run(200);
    return account_of(plan, sample_map(), hand.log());
  };
  const Account as_it_is = account({});
  REQUIRE(as_it_is.film.claimed);
  const auto contribution = [&](const std::string& input) {
    for (const model::BudgetLine& line : as_it_is.film.budget) {
      if (line.input.find(input) != std::string::npos) return line.contribution.value();
    }
    FAIL("no such line: ", input);
    return 0.0;
  };
  // Relative change of the mean a standard uncertainty `u` makes, from a step of `step` either way.
  const auto moved = [&](double Moved::*input, double u, double step) {
    Moved up, down;
    up.*input += step;
    down.*input -= step;
    const double change = nm_of(account(up)) - nm_of(account(down));
    return std::abs(change) / 2 / nm_of(as_it_is) * u / step;
  };
  const plan::Chamber& chamber = sample_plan().chamber;
  const plan::Cathode& cathode = chamber.cathodes.front();
  const double u_kappa = cathode.calibration.uncertainty.value.value();
  CHECK(moved(&Moved::kappa, u_kappa, u_kappa) ==
        doctest::Approx(contribution("film per energy (calibration)")).epsilon(1e-3));
  const double u_power = plan::supply(chamber, "cathode-supply")->power_accuracy.value.value();
  CHECK(moved(&Moved::power, u_power, u_power) ==
        doctest::Approx(contribution("power as the supply reads it")).epsilon(2e-3));
  CHECK(moved(&Moved::p0d0, 0.30, 0.01) == doctest::Approx(contribution("gas transport")).epsilon(5e-3));
  // The wear's law is trusted to a quarter of what it takes away; relative to the film that is left.
  CHECK(moved(&Moved::wear, 0.25, 0.05) == doctest::Approx(contribution("target erosion")).epsilon(0.1));
  const plan::Gauge& gauge = *plan::gauge(chamber, "manometer");
  const double u_pressure = std::hypot(gauge.accuracy.value.value(), gauge.zero_drift->value.value() / 0.4);
  CHECK(moved(&Moved::pressure, u_pressure, 0.01) ==
        doctest::Approx(contribution("working pressure as read")).epsilon(0.05));
}

TEST_CASE("a restart a few volts outside the band stays claimable, with its share in the budget") {
  Hand hand;
  hand.run(300);
  hand.voltage_v = 510;
  hand.run(10);
  hand.voltage_v = 480;
  hand.run(411);
  const Account a = hand.account();
  CHECK(a.film.claimed);
  const bool told =
      std::any_of(a.film.budget.begin(), a.film.budget.end(), [](const model::BudgetLine& line) {
        return line.input.find("outside the calibrated voltage band") != std::string::npos;
      });
  CHECK(told);
}

TEST_CASE("power missing from the log comes from voltage and current") {
  Hand hand;
  hand.left_out = {"cathode-supply.power"};
  hand.run(721);
  CHECK(nm_of(hand.account()) == doctest::Approx(90.0 * area_mean()).epsilon(0.001));
}

TEST_CASE("another shield than the calibration's: no claim") {
  plan::Plan plan = sample_plan();
  plan.chamber.cathodes.front().calibration.shield.value = "trim-2";
  Hand hand;
  hand.run(721);
  const Account a = account_of(plan, sample_map(), hand.log());
  CHECK_FALSE(a.film.claimed);
  CHECK(a.film.why_not.find("trim-2") != std::string::npos);
}

TEST_CASE("a gap with an energy counter costs little; without one it costs its width") {
  Hand counted;
  counted.run(300).skip(20).run(401);
  const Account with = counted.account();
  Hand blind;
  blind.left_out = {"cathode-supply.energy"};
  blind.run(300).skip(20).run(401);
  const Account without = blind.account();
  REQUIRE(with.film.claimed);
  REQUIRE(without.film.claimed);
  CHECK(nm_of(with) == doctest::Approx(90.0).epsilon(0.002));
  // 21 s between rows, none to 20 kW, taken as the 15 kW before and after: half of the range is 1.75 nm, and
  // its middle lies 0.875 nm from what is taken (rectangular, JCGM 100 4.3.7; a known difference that is not
  // corrected for, F.2.4.5).
  const double u_gap = std::hypot(1.75 / std::sqrt(3.0), 0.875);
  const double more =
      std::sqrt(std::pow(without.film.mean.standard_uncertainty.value() * 1e9 / nm_of(without), 2) -
                std::pow(with.film.mean.standard_uncertainty.value() * 1e9 / nm_of(with), 2));
  CHECK(more * nm_of(without) == doctest::Approx(u_gap).epsilon(0.03));
  const Deviation* d = one_of(without, "log-gap");
  REQUIRE(d != nullptr);
  CHECK(d->origin == Origin::log);
  CHECK(*d->worst == doctest::Approx(21));
  CHECK(one_of(with, "log-gap") != nullptr);
}

TEST_CASE("not a bit depends on where blocks end") {
  Hand hand;
  hand.wobble = 0.003;
  hand.index = true;
  hand.step("condition target");
  hand.open = 0;
  hand.run(100);
  hand.open = 1;
  hand.step("coat").run(200);
  hand.power_w = 0;
  hand.run(4);
  hand.power_w = 15e3;
  hand.run(100).skip(12).run(400);
  const Account whole = hand.account(100000);
  for (const std::size_t rows : {1U, 7U, 64U}) {
    const Account cut = hand.account(rows);
    CHECK(cut.film.mean.value.value() == whole.film.mean.value.value());
    CHECK(cut.film.mean.standard_uncertainty.value() == whole.film.mean.standard_uncertainty.value());
    REQUIRE(cut.deviations.size() == whole.deviations.size());
    for (std::size_t i = 0; i < cut.deviations.size(); ++i) {
      CHECK(cut.deviations[i].rule == whole.deviations[i].rule);
      CHECK(cut.deviations[i].effect == whole.deviations[i].effect);
      CHECK(cut.deviations[i].start == whole.deviations[i].start);
    }
    REQUIRE(cut.steps.size() == whole.steps.size());
    for (std::size_t s = 0; s < cut.steps.size(); ++s) {
      REQUIRE(cut.steps[s].figures.size() == whole.steps[s].figures.size());
      for (std::size_t f = 0; f < cut.steps[s].figures.size(); ++f) {
        CHECK(cut.steps[s].figures[f].mean_si == whole.steps[s].figures[f].mean_si);
        CHECK(cut.steps[s].figures[f].integral_si_s == whole.steps[s].figures[f].integral_si_s);
      }
    }
    CHECK(cut.reasons == whole.reasons);
  }
}

}  // namespace vacuary::run::test
