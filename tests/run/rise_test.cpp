// Rate-of-rise tests from end to end: a plant rehearsed with leaks of several sizes or wet walls, two tests
// hours apart, and what the account dares to say of them.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "run/rehearsed.hpp"

namespace vacuary::run::test {
namespace {

template <class Q>
plan::Given<Q> given(Q value) {
  plan::Given<Q> out;
  out.value = value;
  return out;
}

// The sample recipe with the valves shut for ten minutes after an hour on the cryopumps, and again when the
// base pressure is reached.
plan::Plan plan_with_rises() {
  plan::Plan plan = sample_plan();
  auto& steps = plan.recipe.steps;
  const auto base = std::find_if(steps.begin(), steps.end(),
                                 [](const plan::Step& step) { return step.name.value == "pump to base"; });
  REQUIRE(base != steps.end());
  plan::Step hour = *base;
  hour.name.value = "pump for an hour";
  hour.end = {};
  hour.end.time = given(Duration::from_value(3600));
  plan::Step rise;
  rise.kind = plan::StepKind::rate_of_rise;
  rise.end.time = given(Duration::from_value(600));
  rise.longest = given(Duration::from_value(700));
  plan::Step early = rise, late = rise;
  early.name.value = "early rise";
  late.name.value = "late rise";
  const auto after = steps.insert(base + 1, late);
  steps.insert(after - 1, {hour, early});
  return plan;
}

// mbar L/s at the chamber's gas temperature.
double mbar_l_s(MolarFlow flow) {
  return throughput(flow, sample_plan().chamber.gas_temperature.value).pa_m3_per_s() * 10;
}

}  // namespace

TEST_CASE("two rate-of-rise tests tell a leak from walls where they can, and say so where they cannot") {
  // The walls give off 0.026 mbar L/s after an hour and a fifth of that at the end: a leak of a tenth of the
  // late rise hides in what their exponent may be, one of twice the rise does not.
  for (const double leak : {0.0, 1e-4, 1e-3, 1e-2, 5e-2}) {
    std::vector<std::string> faults;
    if (leak > 0) faults.push_back(fmt::format("leak:size={} mbar L/s,at=0s,grows=1s,step=rough", leak));
    const Account a = rehearsed(plan_with_rises(), 11, faults);
    CAPTURE(leak);
    REQUIRE(a.vacuum.rises.size() == 2);
    REQUIRE(a.vacuum.rises_together);
    const RisesTogether& both = *a.vacuum.rises_together;
    // One test alone is an upper bound and calls nothing a leak.
    for (const RateOfRise& rise : a.vacuum.rises) {
      CAPTURE(rise.reading);
      CHECK(mbar_l_s(rise.leak_bound) > leak);
      CHECK(rise.reading.find("the leak") != std::string::npos);
    }
    CHECK(mbar_l_s(both.leak_at_most) > leak);
    CHECK(mbar_l_s(both.leak_at_most) <= mbar_l_s(a.vacuum.rises[1].leak_bound));
    CHECK(both.origin == (leak >= 1e-2 ? "leak" : "cannot tell"));
    if (leak >= 1e-2) CHECK(mbar_l_s(both.leak.value) == doctest::Approx(leak).epsilon(0.25));
  }
}

TEST_CASE("wet walls are no leak to rate-of-rise tests") {
  for (const char* wet : {"wet-load:holds=0s,factor=4", "wet-load"}) {
    const Account a = rehearsed(plan_with_rises(), 11, {wet});
    CAPTURE(wet);
    REQUIRE(a.vacuum.rises_together);
    CHECK(a.vacuum.rises_together->origin != "leak");
    CHECK(std::none_of(a.vacuum.verdicts.begin(), a.vacuum.verdicts.end(),
                       [](const HealthVerdict& v) { return v.what == "real-leak"; }));
  }
}

}  // namespace vacuary::run::test
