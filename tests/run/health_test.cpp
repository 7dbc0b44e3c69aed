// Vacuum health: each fault told apart by its shape, and no fault told where there is none.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "run/pumps.hpp"
#include "run/rehearsed.hpp"
#include "run/rises.hpp"

namespace vacuary::run::test {
namespace {

std::string verdicts(const Account& account) {
  std::string all;
  for (const HealthVerdict& v : account.vacuum.verdicts) all += (all.empty() ? "" : " ") + v.what;
  return all;
}

std::string health(const std::vector<std::string>& faults, std::uint64_t seed = 11) {
  return verdicts(rehearsed(sample_plan(), seed, faults));
}

}  // namespace

TEST_CASE("clean runs are healthy, and their pumps are found as fast as they are") {
  for (const std::uint64_t seed : {3U, 7U}) {
    const Account a = rehearsed(sample_plan(), seed);
    CAPTURE(seed);
    CHECK(verdicts(a) == "normal");
    REQUIRE(a.vacuum.walls);
    // Rehearsal draws each surface's outgassing with 15 %, and the ion gauge reads with 10 %.
    CHECK(a.vacuum.walls->over_plan.value.value() == doctest::Approx(1).epsilon(0.45));
    for (const EffectiveSpeed& s : a.vacuum.speeds) {
      CAPTURE(s.step);
      CHECK(s.found.value.value() / s.expected.value.value() == doctest::Approx(1).epsilon(0.1));
    }
    CHECK(a.vacuum.pulses.empty());
  }
}

TEST_CASE("wet walls, a leak, a shaft seal, a weak and a warming pump: each by its name alone") {
  CHECK(health({"wet-load"}) == "wet-walls");
  CHECK(health({"wet-load:holds=0s,factor=4"}) == "wet-walls");
  CHECK(health({"leak:size=2e-3 mbar L/s,at=0s,grows=1s"}) == "real-leak");
  CHECK(health({"shaft-seal"}) == "shaft-seal");
  CHECK(health({"cryo-warm"}) == "warming-pump");
  CHECK(health({"cryo-warm:step=pump to base"}) == "weak-pump");
}

TEST_CASE("a cryopump that was weak from the start is no wet wall") {
  const Account a = rehearsed(sample_plan(), 5, {"cryo-warm:step=rough,takes=1s"});
  CHECK(verdicts(a) == "weak-pump");
}

TEST_CASE("history narrows what is unusual") {
  plan::Plan plan = sample_plan();
  plan.chamber.history = plan::History{};
  plan::Given<Ratio> spread;
  spread.value = Ratio::of(0.15);
  plan.chamber.history->spread = spread;
  plan::Given<Pressure> usual;
  usual.unit = unit("mbar", Kind::pressure);
  usual.value = Pressure::from_value(4.9e-4);
  plan.chamber.history->pressure_1h = usual;
  // Twice as wet as usual: within the doubt of a chamber file, not within that of its own history.
  CHECK(verdicts(rehearsed(sample_plan(), 11, {"wet-load:holds=0s,factor=2"})) == "normal");
  CHECK(verdicts(rehearsed(plan, 11, {"wet-load:holds=0s,factor=2"})) == "wet-walls");
  CHECK(verdicts(rehearsed(plan, 11)) == "normal");
}

TEST_CASE("what is unusual for this chamber is told, also behind what is unusual for the plan's figures") {
  // A plan that expects ten times the gas of this vessel's walls, and a base pressure that usually is there
  // in half the time.
  plan::Plan plan = sample_plan();
  for (plan::Surface& surface : plan.chamber.surfaces)
    surface.outgassing_1h.value = surface.outgassing_1h.value * 10.0;
  plan.chamber.history = plan::History{};
  plan.chamber.history->spread.value = Ratio::of(0.15);
  plan::Given<Pressure> base;
  base.unit = unit("mbar", Kind::pressure);
  base.value = Pressure::from_value(1e-4);
  plan.chamber.history->base_pressure = base;
  plan::Given<Duration> usual;
  usual.unit = unit("h", Kind::duration);
  usual.value = Duration::from_value(7200);
  plan.chamber.history->base_time = usual;
  rehearse::Options options;
  options.seed = 11;
  options.map = &sample_map();
  const auto made = rehearse::rehearse(sample_plan(), options);
  REQUIRE(made.has_value());
  const Account a =
      account_of(plan, sample_map(), read_plainly(made.value().log_csv, plan.chamber.reference));
  const auto& against = a.vacuum.against_normal;
  const auto first = std::find_if(against.begin(), against.end(), [](const auto& c) { return c.unusual; });
  REQUIRE(first != against.end());
  CHECK_FALSE(first->from_history);
  CHECK(verdicts(a) == "cannot-tell");
}

TEST_CASE("gas once per turn is seen, noise and drift are not") {
  const auto fold = [](double pulse, double drift, double noise) {
    Fold f;
    for (int i = 0; i < 720; ++i) {
      const double turned = i * 2 * 3.14159265358979 / 120;
      const double c = std::max(0.0, std::cos(turned));
      f.add(turned, std::fmod(turned, 2 * 3.14159265358979),
            1 + pulse * c * c + drift * i / 720 + noise * std::sin(12.9898 * i * i));
    }
    return f.pulse();
  };
  REQUIRE(fold(0.3, 0, 0.005));
  CHECK(fold(0.3, 0, 0.005)->height == doctest::Approx(0.3).epsilon(0.05));
  CHECK(fold(0.3, 0, 0.005)->turns == 5);
  CHECK_FALSE(fold(0, 0, 0.02));
  CHECK_FALSE(fold(0, 0.8, 0.005));
  CHECK_FALSE(fold(0.01, 0, 0.0001));
}

TEST_CASE("a thinned channel keeps means and order in bounded memory") {
  Thinned t;
  for (int i = 0; i < 100000; ++i) t.add(i, 2.0 * i);
  CHECK(t.points().size() < 256);
  CHECK(t.points().size() >= 100);
  for (const Thinned::Point& p : t.points()) CHECK(p.value == doctest::Approx(2 * p.t_s));
}

}  // namespace vacuary::run::test
