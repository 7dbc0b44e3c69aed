// Pumpdowns and rises turned round: what was put into a made-up log comes out again, or the fit says
// that it cannot tell.
#include <doctest/doctest.h>

#include <cmath>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using vacuary::physics_test::outside;

namespace {

Pressure pa(double x) { return Pressure::from_value(x); }
Duration s(double x) { return Duration::from_value(x); }
PressureRate rate(double x) { return PressureRate::from_value(x); }
Estimate<PressureRate> rate(double x, double u) { return {rate(x), rate(u)}; }

// p = a t^-n + c with a share of noise, 200 samples between the hours given, even in log t.
std::vector<PressureSample> decay(double a, double n, double c, double from_h, double to_h, double noise,
                                  std::uint64_t seed) {
  const Random random(seed);
  std::vector<PressureSample> samples;
  for (std::uint64_t i = 0; i < 200; ++i) {
    const double t = from_h * std::pow(to_h / from_h, static_cast<double>(i) / 199);
    samples.push_back({s(t * 3600), pa((a * std::pow(t, -n) + c) * (1 + noise * random.normal(0, i)))});
  }
  return samples;
}

std::vector<RiseSample> rise(const RiseCurve& curve, double length_s, double noise_pa, std::uint64_t seed) {
  const Random random(seed);
  std::vector<RiseSample> samples;
  for (std::uint64_t i = 0; i < 120; ++i) {
    const double t = length_s * static_cast<double>(i) / 119;
    samples.push_back({s(t), pa(risen(curve, s(t)).value() + noise_pa * random.normal(1, i))});
  }
  return samples;
}

}  // namespace

TEST_CASE("a decay without noise comes back exactly") {
  for (double n : {0.5, 1.0, 1.3}) {
    const auto fit = fit_decay(decay(3e-4, n, 2e-5, 0.5, 12, 0, 1));
    REQUIRE(fit.has_value());
    CHECK(fit->exponent.value.value() == doctest::Approx(n).epsilon(1e-5));
    CHECK(fit->at_1h.value.value() == doctest::Approx(3e-4).epsilon(1e-5));
    CHECK(fit->floor.value.value() == doctest::Approx(2e-5).epsilon(1e-4));
    CHECK(fit->floor_seen);
  }
}

TEST_CASE("a decay with noise: errors are as large as the uncertainties say") {
  double pulls_n = 0, pulls_a = 0, pulls_c = 0;
  constexpr int runs = 60;
  for (std::uint64_t seed = 1; seed <= runs; ++seed) {
    const auto fit = fit_decay(decay(3e-4, 1.0, 5e-5, 0.5, 20, 0.02, seed));
    REQUIRE(fit.has_value());
    const auto pull = [](double got, double truth, double u) {
      return (got - truth) * (got - truth) / (u * u);
    };
    pulls_n += pull(fit->exponent.value.value(), 1.0, fit->exponent.standard_uncertainty.value());
    pulls_a += pull(fit->at_1h.value.value(), 3e-4, fit->at_1h.standard_uncertainty.value());
    pulls_c += pull(fit->floor.value.value(), 5e-5, fit->floor.standard_uncertainty.value());
  }
  // Mean square pull 1 +/- 4 sqrt(2/60); a little less, since chance correlation only ever widens.
  for (double pulls : {pulls_n, pulls_a, pulls_c}) {
    CHECK(pulls / runs < 1.7);
    CHECK(pulls / runs > 0.4);
  }
}

TEST_CASE("no leak: the floor is not claimed, and its bound covers nothing") {
  int claimed = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto fit = fit_decay(decay(3e-4, 1.0, 0, 0.5, 20, 0.02, seed));
    REQUIRE(fit.has_value());
    claimed += fit->floor_seen ? 1 : 0;
    CHECK(fit->floor_at_most.value() < 2e-5);
  }
  CHECK(claimed <= 4);
}

TEST_CASE("over a factor of two in time exponent and floor are hardly told apart, and that is said") {
  const auto narrow = fit_decay(decay(3e-4, 1.0, 5e-5, 2, 5, 0.02, 3));
  const auto wide = fit_decay(decay(3e-4, 1.0, 5e-5, 0.5, 20, 0.02, 3));
  REQUIRE(narrow.has_value());
  CHECK(narrow->exponent.standard_uncertainty.value() > 5 * wide->exponent.standard_uncertainty.value());
  CHECK_FALSE(fit_decay(decay(3e-4, 1.0, 0, 2, 3.9, 0.02, 3)).has_value());
  CHECK_FALSE(fit_decay({}).has_value());
  CHECK_FALSE(fit_decay(std::vector<PressureSample>(50, {s(3600), pa(1)})).has_value());
  std::vector<PressureSample> broken = decay(3e-4, 1.0, 5e-5, 0.5, 20, 0, 3);
  broken[7].pressure = pa(std::nan(""));
  broken[8].pressure = pa(-1);
  CHECK(fit_decay(broken)->samples == 198);
}

TEST_CASE("errors shared by neighbouring samples widen the uncertainty") {
  std::vector<PressureSample> wavy = decay(3e-4, 1.0, 0, 0.5, 20, 0, 1),
                              noisy = decay(3e-4, 1.0, 0, 0.5, 20, 0.02, 1);
  for (std::size_t i = 0; i < wavy.size(); ++i)
    wavy[i].pressure *= 1 + 0.028 * std::sin(static_cast<double>(i) / 4);
  CHECK(fit_decay(wavy)->exponent.standard_uncertainty.value() >
        2 * fit_decay(noisy)->exponent.standard_uncertainty.value());
}

TEST_CASE("the integrated pumpdown of a large vessel gives back its walls and its speed") {
  PumpdownCase c;
  c.volume = Volume::from_value(14);
  c.walls = {{Area::from_value(29), MolarFlux::from_value(2e-5 / 2437.4), Ratio::of(1)}};
  PumpingStage stage;
  const PumpingSpeed speed = PumpingSpeed::from_value(3);
  stage.rows = {{pa(1e9), speed, speed, speed}};
  c.stages = {stage};
  c.start.air = pa(3);
  c.pumped = s(600);
  c.longest = s(20 * 3600);
  std::vector<PressureSample> falling, late;
  for (const PumpdownPoint& point : pump_down(c).curve) {
    if (point.time.value() < 20) falling.push_back({point.time, point.p.total()});
    if (point.time.value() > 3600) late.push_back({point.time + c.pumped, point.p.total()});
  }
  const auto s_fit = fit_speed(falling, c.volume, quasi_steady(c, s(610)).total());
  REQUIRE(s_fit.has_value());
  CHECK(s_fit->speed.value.value() == doctest::Approx(3).epsilon(0.01));
  const auto d = fit_decay(late);
  REQUIRE(d.has_value());
  CHECK(d->exponent.value.value() == doctest::Approx(1).epsilon(5e-3));
  const Estimate<MolarFlow> load = wall_load(*d, s_fit->speed, c.gas);
  CHECK(load.value.value() == doctest::Approx(outgassing(c.walls, s(3600)).value()).epsilon(0.02));
}

TEST_CASE("a speed is not claimed from what does not fall") {
  const std::vector<PressureSample> flat(20, {s(1), pa(1)});
  CHECK_FALSE(fit_speed(flat, Volume::from_value(1)).has_value());
  CHECK_FALSE(fit_speed({}, Volume::from_value(1)).has_value());
}

TEST_CASE("a straight rise: slope and bound, and no word on what it is") {
  const auto fit = fit_rise(rise({pa(1e-4), rate(3e-5), pa(0), s(0)}, 600, 1e-5, 1));
  REQUIRE(fit.has_value());
  CHECK(fit->reading == RiseReading::straight);
  CHECK(fit->steady.value.value() == doctest::Approx(3e-5).epsilon(0.01));
  CHECK(fit->leak_rate_at_most.value() > 3e-5 * 0.995);
  CHECK(fit->leak_rate_at_most.value() < 3e-5 * 1.02);
}

TEST_CASE("a rise that bends over: the saturating part is taken off the bound") {
  const RiseCurve truth{pa(1e-4), rate(2e-6), pa(5e-3), s(150)};
  const auto fit = fit_rise(rise(truth, 900, 1e-5, 2));
  REQUIRE(fit.has_value());
  CHECK(fit->reading == RiseReading::bends);
  CHECK(std::abs(fit->steady.value.value() - 2e-6) < 3 * fit->steady.standard_uncertainty.value());
  CHECK(std::abs(fit->saturating.value.value() - 5e-3) < 3 * fit->saturating.standard_uncertainty.value());
  CHECK(fit->tau.value() == doctest::Approx(150).epsilon(0.05));
  CHECK(fit->leak_rate_at_most < fit->slope.value);
}

TEST_CASE("a straight rise is called bent in about one case of a hundred") {
  int bent = 0;
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const auto fit = fit_rise(rise({pa(1e-4), rate(3e-5), pa(0), s(0)}, 600, 1e-4, seed));
    bent += fit->reading == RiseReading::bends || fit->reading == RiseReading::accelerates ? 1 : 0;
  }
  // tau is picked from many, so somewhat more often than the nominal one in a hundred.
  CHECK(bent <= 10);
}

TEST_CASE("a saturation seen only as its straight start is called straight") {
  const auto fit = fit_rise(rise({pa(1e-4), rate(0), pa(5e-2), s(20000)}, 600, 2e-5, 5));
  CHECK(fit->reading == RiseReading::straight);
  CHECK(fit->leak_rate_at_most.value() > 2e-6);  // an upper bound, far above the true leak of nothing
}

TEST_CASE("no rise, a rise that accelerates, and too few samples") {
  CHECK(fit_rise(rise({pa(1e-4), rate(0), pa(0), s(0)}, 600, 1e-5, 3))->reading == RiseReading::no_rise);
  std::vector<RiseSample> warming;
  for (int i = 0; i < 60; ++i) warming.push_back({s(10.0 * i), pa(1e-4 + 1e-9 * i * i * i)});
  CHECK(fit_rise(warming)->reading == RiseReading::accelerates);
  CHECK_FALSE(fit_rise({}).has_value());
  CHECK_FALSE(fit_rise(std::vector<RiseSample>(30, {s(5), pa(1)})).has_value());
  CHECK(std::string(name(RiseReading::bends)) == "bends over");
}

TEST_CASE("two tests hours apart tell a leak from walls, or say that they cannot") {
  const auto two = [](double leak, double walls_1h, double h1, double h2, double n = 1.0, double u = 0.01) {
    const double s1 = leak + walls_1h * std::pow(h1, -n), s2 = leak + walls_1h * std::pow(h2, -n);
    return combine_rises(rate(s1, u * s1), s(h1 * 3600), rate(s2, u * s2), s(h2 * 3600));
  };
  CHECK(two(1e-5, 0, 2, 12).origin == RiseOrigin::leak);
  CHECK(two(0, 1e-4, 2, 6).origin == RiseOrigin::walls);
  // Walls of another exponent than assumed, within its uncertainty, are not called a leak.
  CHECK(two(0, 1e-4, 2, 12, 0.8).origin != RiseOrigin::leak);
  // Half and half, or slopes too coarse for tests so close together.
  CHECK(two(1e-5, 1e-4, 2, 10).origin == RiseOrigin::cannot_tell);
  CHECK(two(0, 1e-4, 2, 2.2, 1.0, 0.05).origin == RiseOrigin::cannot_tell);
  const TwoRises exact = two(1e-5, 1e-4, 2, 10);
  CHECK(exact.leak.value.value() == doctest::Approx(1e-5));
  CHECK(exact.leak_at_most > exact.leak.value);
  // The same moment twice decides nothing and does not fail.
  CHECK(combine_rises(rate(1e-5, 1e-7), s(3600), rate(1e-5, 1e-7), s(3600)).origin ==
        RiseOrigin::cannot_tell);
}

TEST_CASE("NIST StRD Misra1a") {
  // Certified values of the Statistical Reference Datasets (lower difficulty): y = b1 (1 - exp(-b2 x)).
  const std::vector<double> y{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02,
                              44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78};
  const std::vector<double> x{77.6,  114.9, 141.1, 190.8, 239.9, 289.0, 332.8,
                              378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0};
  const auto residuals = [&](const std::vector<double>& b, std::vector<double>& r) {
    for (std::size_t i = 0; i < x.size(); ++i) r[i] = b[0] * (1 - std::exp(-b[1] * x[i])) - y[i];
  };
  const NonlinearFit fit = fit_nonlinear(residuals, x.size(), {500, 1e-4}, {10, 1e-4});
  CHECK(fit.converged);
  const double s2 = fit.chi_squared / 12;
  const char* source = "NIST StRD, Misra1a, certified";
  outside("Fits", "Misra1a b1", fit.parameters[0], 2.3894212918e2, 1e-7, source, "the certified digits");
  outside("Fits", "Misra1a b2", fit.parameters[1], 5.5015643181e-4, 1e-7, source, "the certified digits");
  outside("Fits", "Misra1a, standard deviation of b1", std::sqrt(s2) * fit.uncertainty(0), 2.7070075241, 1e-5,
          source, "derivatives by differences");
  outside("Fits", "Misra1a, standard deviation of b2", std::sqrt(s2) * fit.uncertainty(1), 7.2668688436e-6,
          1e-5, source, "derivatives by differences");
  outside("Fits", "Misra1a, sum of squares", fit.chi_squared, 1.2455138894e-1, 1e-8, source,
          "the certified digits");
}

TEST_CASE("a parameter the data do not tell has no small uncertainty") {
  const auto residuals = [](const std::vector<double>& b, std::vector<double>& r) {
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = b[0] + b[1] - static_cast<double>(i);
  };
  const NonlinearFit fit = fit_nonlinear(residuals, 5, {0, 0}, {1, 1});
  CHECK(fit.parameters[0] + fit.parameters[1] == doctest::Approx(2));
  CHECK(fit.uncertainty(0) > 1e5);
  CHECK(fit.correlation(0, 1) == doctest::Approx(-1));
}
