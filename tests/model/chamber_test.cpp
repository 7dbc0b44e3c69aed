// Speeds, outgassing, working pressure and gauges of the sample plant.
#include <doctest/doctest.h>

#include <cmath>

#include "model/model.hpp"
#include "tarn_ridge.hpp"

using namespace vacuary;
using model_test::given;
using model_test::step;
using model_test::tarn_ridge;

TEST_CASE("effective speeds of the two cryopumps through their valves") {
  // Worked out beside the sample plant: about 7280, 3670, 3070 L/s for water, nitrogen, argon.
  const plan::Chamber& chamber = tarn_ridge().chamber;
  CHECK(model::high_vacuum_speed(chamber, "H2O").value() * 1000 == doctest::Approx(7280).epsilon(2e-3));
  CHECK(model::high_vacuum_speed(chamber, "N2").value() * 1000 == doctest::Approx(3670).epsilon(2e-3));
  CHECK(model::high_vacuum_speed(chamber, "Ar").value() * 1000 == doctest::Approx(3070).epsilon(2e-3));
  CHECK(model::high_vacuum_speed(chamber, "air") == model::high_vacuum_speed(chamber, "N2"));
  CHECK(model::high_vacuum_speed(chamber, "Kr") == model::high_vacuum_speed(chamber, "N2"));
}

TEST_CASE("roughing speed follows its table") {
  const plan::Chamber& chamber = tarn_ridge().chamber;
  const auto litres = [&](double mbar) {
    return model::roughing_speed(chamber, Pressure::from_value(mbar * 100)).value() * 1000;
  };
  CHECK(litres(1000) == doctest::Approx(60));
  CHECK(litres(301) == doctest::Approx(60));
  CHECK(litres(299) == doctest::Approx(150));
  CHECK(litres(1) == doctest::Approx(400));
}

TEST_CASE("a chamber without pumps pumps nothing") {
  plan::Chamber chamber = tarn_ridge().chamber;
  chamber.pumps.clear();
  CHECK(model::high_vacuum_speed(chamber, "N2").value() == 0);
  CHECK(model::roughing_speed(chamber, Pressure::from_value(1)).value() == 0);
}

TEST_CASE("outgassing at 1 h and at 4.6 h") {
  // 2.7e-2 mbar L/s at 1 h, (2.31e-2 / 4.6 + 3.9e-3 / sqrt 4.6) at 4.6 h: the sample plant's algebra.
  const plan::Chamber& chamber = tarn_ridge().chamber;
  const auto mbar_l_s = [&](double hours) {
    return throughput(model::outgassing(chamber, Duration::from_value(hours * 3600)),
                      chamber.gas_temperature.value)
               .pa_m3_per_s() *
           10;
  };
  CHECK(mbar_l_s(1) == doctest::Approx(2.31e-2 + 3.9e-3).epsilon(1e-6));
  CHECK(mbar_l_s(4.6) == doctest::Approx(2.31e-2 / 4.6 + 3.9e-3 / std::sqrt(4.6)).epsilon(3e-4));
}

TEST_CASE("working pressure from flow and throttled speed") {
  plan::Plan plan = tarn_ridge();
  plan::Step& coat = step(plan, "coat");
  const auto p = model::working_pressure(plan.chamber, coat);
  REQUIRE(p.has_value());
  // 250 sccm x 1.8124e-3 Pa m3/s / 1.5 m3/s.
  CHECK(p->value.value() == doctest::Approx(0.302).epsilon(2e-3));
  CHECK(p->standard_uncertainty.value() > 0.02 * p->value.value());
  coat.throttle = given(Ratio::of(coat.throttle->value.value() / 2));
  CHECK(model::working_pressure(plan.chamber, coat)->value.value() == doctest::Approx(2 * p->value.value()));
  coat.gas.clear();
  CHECK_FALSE(model::working_pressure(plan.chamber, coat).has_value());
  // Roughing pump, two gases: 440 sccm through 40 % of 400 L/s, on top of what the pump reaches alone.
  const auto glow = model::working_pressure(plan.chamber, step(plan, "glow"));
  REQUIRE(glow.has_value());
  CHECK(glow->value.value() == doctest::Approx(440 * 1.8124e-3 / 0.16 + 0.1).epsilon(1e-4));
}

TEST_CASE("the gauge that sees a pressure best, with its zero") {
  const plan::Chamber& chamber = tarn_ridge().chamber;
  const auto working = model::gauge_uncertainty(chamber, Pressure::from_value(0.3));
  REQUIRE(working.has_value());
  CHECK(working->gauge == "manometer");
  CHECK(working->relative.value() == doctest::Approx(std::hypot(0.0025, 0.02 / 0.3)));
  CHECK(model::gauge_uncertainty(chamber, Pressure::from_value(1e-4))->gauge == "ion");
  CHECK_FALSE(model::gauge_uncertainty(chamber, Pressure::from_value(1e-9)).has_value());
}
