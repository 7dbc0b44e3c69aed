// Uncertainty, weighted means, random numbers and straight lines.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using vacuary::physics_test::outside;

TEST_CASE("NIST StRD Norris") {
  const std::vector<double> x{.2, 337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, .4,
                              .6, 775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, .3,
                              .3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, .5};
  const std::vector<double> y{.1, 338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3,
                              .1, 778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, .3,
                              .6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, .2};
  const Line line = fit_line(x, y);
  const char* const nist = "NIST StRD, Norris (certified)";
  const char* const why = "double precision on a problem of low difficulty";
  outside("Statistics", "Norris, intercept", line.intercept, -0.262323073774029, 1e-11, nist, why);
  outside("Statistics", "Norris, slope", line.slope, 1.00211681802045, 1e-13, nist, why);
  outside("Statistics", "Norris, deviation of the intercept", line.intercept_uncertainty, 0.232818234301152,
          1e-11, nist, why);
  outside("Statistics", "Norris, deviation of the slope", line.slope_uncertainty, .429796848199937e-3, 1e-11,
          nist, why);
  outside("Statistics", "Norris, residual deviation", line.residual_deviation, .884796396144373, 1e-11, nist,
          why);
}

TEST_CASE("a weighted line with equal weights is the plain one; a hopeless point does not count") {
  const std::vector<double> x{0, 1, 2, 3}, y{1, 3.1, 4.9, 7};
  const Line plain = fit_line(x, y), weighted = fit_line(x, y, {2, 2, 2, 2});
  CHECK(weighted.slope == doctest::Approx(plain.slope));
  CHECK(weighted.slope_uncertainty == doctest::Approx(2 / std::sqrt(5.0)));
  const Line with_bad = fit_line({0, 1, 2, 3, 4}, {1, 3.1, 4.9, 7, 1000}, {1, 1, 1, 1, 1e9});
  CHECK(with_bad.slope == doctest::Approx(plain.slope).epsilon(1e-6));
}

TEST_CASE("JCGM 100 H.1: the end gauge") {
  // Table H.1: contributions in nm and degrees of freedom (infinitely many where none are given).
  const CombinedUncertainty u = combine({{"standard", 25, 1, 18},
                                         {"repeated observations", 5.8, 1, 24},
                                         {"comparator, random", 3.9, 1, 5},
                                         {"comparator, systematic", 6.7, 1, 8},
                                         {"difference of expansion", 2.9, 1, 50},
                                         {"difference of temperature", 16.6, 1, 2}});
  outside("Statistics", "end gauge, combined uncertainty, nm", u.combined, 32, 0.02, "JCGM 100:2008, H.1",
          "two digits");
  outside("Statistics", "end gauge, effective degrees of freedom", std::floor(u.effective_degrees_of_freedom),
          16, 0.0, "JCGM 100:2008, H.1", "rounded down as the guide says");
  outside("Statistics", "Student's factor, 99 %, 16 degrees", student_factor(0.99, 16), 2.92, 2e-3,
          "JCGM 100:2008, table G.2", "three digits");
  CHECK(u.lines.front().name == "standard");
  double shares = 0;
  for (const UncertaintyLine& line : u.lines) shares += line.share;
  CHECK(shares == doctest::Approx(1));
  CHECK(student_factor(0.95, std::numeric_limits<double>::infinity()) ==
        doctest::Approx(1.959964).epsilon(1e-6));
}

TEST_CASE("weighted mean and consistency") {
  const WeightedMean two = weighted_mean({10, 12}, {1, 1});
  CHECK(two.mean == 11);
  CHECK(two.uncertainty == doctest::Approx(std::sqrt(0.5)));
  CHECK(two.chi_squared == doctest::Approx(2));
  CHECK(two.probability == doctest::Approx(std::erfc(1.0)).epsilon(1e-9));  // chi^2 of 2 with one degree
  CHECK(two.consistent);
  const WeightedMean apart = weighted_mean({10, 14}, {1, 1});
  CHECK_FALSE(apart.consistent);
  CHECK(apart.widened() == doctest::Approx(2.0));  // half the difference: what two that disagree allow
  const WeightedMean one = weighted_mean({7}, {0.3});
  CHECK(one.mean == 7);
  CHECK(one.uncertainty == 0.3);
  CHECK(one.consistent);
  // The better estimate pulls harder: u 1 and 2 weigh 4 to 1.
  CHECK(weighted_mean({0, 5}, {1, 2}).mean == doctest::Approx(1));
}

namespace {

NamedEstimate nanometres(const char* name, double value, double uncertainty) {
  return {name, {Length::from_value(value * 1e-9), Length::from_value(uncertainty * 1e-9)}};
}

}  // namespace

TEST_CASE("several estimates of one thickness that agree are simply averaged") {
  const CombinedEstimates all = combine_estimates(
      {nanometres("energy", 90, 2), nanometres("witness", 88, 1), nanometres("crystal", 91, 4)});
  CHECK(all.consistent);
  CHECK(all.mean.value.value() * 1e9 == doctest::Approx((90 / 4.0 + 88 + 91 / 16.0) / (1.3125)));
  CHECK(all.mean.standard_uncertainty == all.uncertainty_if_consistent);
  CHECK(all.consistent_mean.value == all.mean.value);
  double weights = 0;
  for (const Equivalence& e : all.each) {
    weights += e.weight.value();
    CHECK(e.agrees);
    CHECK(e.in_consistent_subset);
  }
  CHECK(weights == doctest::Approx(1));
}

TEST_CASE("the estimate that does not fit is named, and nothing is thrown away") {
  const CombinedEstimates all =
      combine_estimates({nanometres("energy", 90, 2), nanometres("witness", 90.5, 1),
                         nanometres("crystal", 89, 2), nanometres("target mass", 110, 2)});
  CHECK_FALSE(all.consistent);
  CHECK_FALSE(all.each[3].agrees);
  CHECK_FALSE(all.each[3].in_consistent_subset);
  CHECK(all.each[0].in_consistent_subset);
  // The mean is over all of them and wider for it.
  CHECK(all.mean.standard_uncertainty > 3.0 * all.uncertainty_if_consistent);
  CHECK(all.mean.value > all.consistent_mean.value);
  // Two that disagree: each alone is as large a subset as the other.
  const CombinedEstimates two = combine_estimates({nanometres("a", 80, 1), nanometres("b", 100, 1)});
  CHECK_FALSE(two.consistent);
  CHECK(two.mean.standard_uncertainty.value() * 1e9 == doctest::Approx(10));  // half their distance
  const CombinedEstimates one = combine_estimates({nanometres("energy", 90, 2)});
  CHECK(one.consistent);
  CHECK(one.each[0].agrees);
  CHECK(one.mean.standard_uncertainty.value() == doctest::Approx(2e-9));
}

TEST_CASE("the consistency test turns down one in twenty of estimates that are right") {
  const Random random(2031);
  int turned_down = 0;
  constexpr int trials = 4000;
  for (std::uint64_t t = 0; t < trials; ++t) {
    const auto draw = [&](std::uint64_t i, double u) { return 90 + u * random.normal(i, t); };
    const CombinedEstimates all =
        combine_estimates({nanometres("energy", draw(0, 2.4), 2.4), nanometres("witness", draw(1, 1), 1),
                           nanometres("crystal", draw(2, 3), 3), nanometres("target", draw(3, 9), 9)});
    turned_down += all.consistent ? 0 : 1;
  }
  // Binomial: 200 +/- 14.
  CHECK(std::abs(turned_down - 200) < 4 * 14);
}

TEST_CASE("Philox 4x32-10 known answers") {
  // Random123 distribution, kat_vectors (Salmon et al. 2011).
  struct Row {
    std::uint32_t counter[4], key[2], out[4];
  };
  const Row rows[] = {
      {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
      {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
       {0xffffffff, 0xffffffff},
       {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
      {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
       {0xa4093822, 0x299f31d0},
       {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
  };
  for (const Row& row : rows) {
    std::uint32_t out[4];
    Random::philox(row.counter, row.key, out);
    for (int i = 0; i < 4; ++i) CHECK(out[i] == row.out[i]);
  }
}

TEST_CASE("random numbers have the moments of their distribution, and streams do not repeat each other") {
  const Random random(42);
  double sum = 0, squares = 0, product = 0;
  constexpr int n = 100000;
  for (std::uint64_t i = 0; i < n; ++i) {
    const double z = random.normal(0, i);
    sum += z;
    squares += z * z;
    product += z * random.normal(1, i);
  }
  // Five standard deviations of each figure.
  CHECK(std::abs(sum / n) < 5 / std::sqrt(1.0 * n));
  CHECK(std::abs(squares / n - 1) < 5 * std::sqrt(2.0 / n));
  CHECK(std::abs(product / n) < 5 / std::sqrt(1.0 * n));
  CHECK(Random(42).uniform(3, 7) == random.uniform(3, 7));
  CHECK(Random(43).uniform(3, 7) != random.uniform(3, 7));
}

TEST_CASE("JCGM 101 9.2.3: four rectangular inputs") {
  const std::vector<RandomInput> four(4, RandomInput{0, 1, Distribution::rectangular});
  const auto sum = [](const std::vector<double>& x) { return x[0] + x[1] + x[2] + x[3]; };
  const MonteCarlo mc = monte_carlo(four, sum, 1, 200000);
  outside("Statistics", "four rectangular inputs, u", mc.uncertainty, 2.00, 0.01, "JCGM 101:2008, 9.2.3",
          "200 000 trials");
  outside("Statistics", "four rectangular inputs, 95 % half-width", (mc.high - mc.low) / 2, 3.88, 0.01,
          "JCGM 101:2008, 9.2.3", "200 000 trials");
  CHECK(std::abs(mc.mean) < 5 * 2.0 / std::sqrt(200000.0));
}

TEST_CASE("where the model is straight, Monte Carlo and the linear rule agree") {
  const std::vector<RandomInput> inputs{{10, 0.3}, {5, 0.4}};
  const MonteCarlo mc = monte_carlo(
      inputs, [](const std::vector<double>& x) { return 2 * x[0] - 3 * x[1]; }, 7, 100000);
  const CombinedUncertainty linear = combine({{"a", 0.3, 2}, {"b", 0.4, -3}});
  CHECK(mc.uncertainty == doctest::Approx(linear.combined).epsilon(0.01));
  CHECK(mc.mean == doctest::Approx(5).epsilon(0.005));
  // A lognormal factor of two: its median stays, its 95 % interval is lopsided.
  const MonteCarlo factor = monte_carlo(
      {{1, std::log(2.0), Distribution::lognormal}}, [](const std::vector<double>& x) { return x[0]; }, 3,
      100000);
  CHECK(factor.high == doctest::Approx(std::exp(1.96 * std::log(2.0))).epsilon(0.03));
  CHECK(factor.low == doctest::Approx(std::exp(-1.96 * std::log(2.0))).epsilon(0.03));
}
