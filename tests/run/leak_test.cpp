// A leak out of the way the pressure falls.
#include "run/leak.hpp"

#include <doctest/doctest.h>

#include <cmath>

namespace vacuary::run::test {
namespace {

// Water-like outgassing with a little slow part, as in a vessel with seals.
double walls(double t_s) { return 8e-2 / t_s + 2e-6 / std::sqrt(t_s / 3600); }

// The walls give off 1.3 times what the plan says, with an exponent 5 % off, and every row is off by up to 1
// %.
PressureFall fall(double leak_pa, double opens_s) {
  PressureFall out;
  int n = 0;
  for (double t = 1700; t < 20000; t += 30) {
    const double noise = 1 + 0.01 * std::sin(12.9898 * ++n);
    const double leak = t > opens_s ? leak_pa : 0;
    out.add(t, (1.3 * std::pow(walls(t) / walls(3600), 1.05) * walls(3600) + leak) * noise);
  }
  return out;
}

}  // namespace

TEST_CASE("no leak, none found, though level and exponent are not the plan's") {
  const auto found = fall(0, 0).inflow(walls);
  REQUIRE(found);
  CHECK(found->least_pa < 1e-6);
  CHECK(std::abs(found->best_pa) < 3e-6);
}

TEST_CASE("a steady leak is found, its size to a third") {
  const auto found = fall(2e-5, 0).inflow(walls);
  REQUIRE(found);
  CHECK(found->best_pa == doctest::Approx(2e-5).epsilon(0.33));
  CHECK(found->least_pa > 5e-6);
}

TEST_CASE("a leak that opens on the way is found with its time") {
  const auto found = fall(2e-5, 6000).inflow(walls);
  REQUIRE(found);
  CHECK(found->best_pa == doctest::Approx(2e-5).epsilon(0.2));
  REQUIRE(found->opened_s);
  CHECK(*found->opened_s == doctest::Approx(6000).epsilon(0.1));
}

TEST_CASE("too little to go by says nothing") {
  PressureFall few;
  for (double t = 1700; t < 2500; t += 30) few.add(t, 1e-4);
  CHECK_FALSE(few.inflow(walls));
}

}  // namespace vacuary::run::test
