#include "physics/uncertainty.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>
#include <numbers>

namespace vacuary::physics {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

double draw(const RandomInput& input, const Random& random, std::uint64_t stream, std::uint64_t trial) {
  switch (input.distribution) {
    case Distribution::normal:
      break;
    case Distribution::rectangular:
      return input.value + input.uncertainty * std::numbers::sqrt3 * (2 * random.uniform(stream, trial) - 1);
    case Distribution::lognormal:
      return input.value * std::exp(input.uncertainty / input.value * random.normal(stream, trial));
  }
  return input.value + input.uncertainty * random.normal(stream, trial);
}

// Quantile of sorted values, JCGM 101 7.7 with linear interpolation between neighbours.
double quantile(const std::vector<double>& sorted, double p) {
  const double at = p * static_cast<double>(sorted.size() - 1);
  const auto i = static_cast<std::size_t>(at);
  if (i + 1 >= sorted.size()) return sorted.back();
  return sorted[i] + (at - static_cast<double>(i)) * (sorted[i + 1] - sorted[i]);
}

}  // namespace

CombinedUncertainty combine(const std::vector<UncertaintyInput>& inputs) {
  CombinedUncertainty result;
  double variance = 0, fourth = 0;
  for (const UncertaintyInput& input : inputs) {
    const double contribution = std::abs(input.sensitivity * input.uncertainty);
    variance += contribution * contribution;  // (U1)
    if (input.degrees_of_freedom > 0) fourth += std::pow(contribution, 4) / input.degrees_of_freedom;
    result.lines.push_back({input.name, input.uncertainty, contribution, 0});
  }
  result.combined = std::sqrt(variance);
  result.effective_degrees_of_freedom = fourth > 0 ? variance * variance / fourth : infinity;  // (U2)
  for (UncertaintyLine& line : result.lines) {
    line.share = variance > 0 ? line.contribution * line.contribution / variance : 0;
  }
  std::stable_sort(result.lines.begin(), result.lines.end(),
                   [](const UncertaintyLine& a, const UncertaintyLine& b) { return a.share > b.share; });
  return result;
}

double student_factor(double p, double degrees_of_freedom) {
  const double upper = (1 + p) / 2;
  if (!std::isfinite(degrees_of_freedom)) return boost::math::quantile(boost::math::normal(), upper);
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), upper);
}

WeightedMean weighted_mean(const std::vector<double>& values, const std::vector<double>& uncertainties) {
  WeightedMean result;
  double weights = 0, sum = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double w = 1 / (uncertainties[i] * uncertainties[i]);
    weights += w;
    sum += w * values[i];
  }
  result.mean = sum / weights;  // (U3)
  result.uncertainty = 1 / std::sqrt(weights);
  if (values.size() < 2) return result;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double z = (values[i] - result.mean) / uncertainties[i];
    result.chi_squared += z * z;  // (U4)
  }
  const auto freedom = static_cast<double>(values.size() - 1);
  result.birge_ratio = std::sqrt(result.chi_squared / freedom);
  result.probability =
      boost::math::cdf(boost::math::complement(boost::math::chi_squared(freedom), result.chi_squared));
  result.consistent = result.probability >= 0.05;
  return result;
}

double chi_squared_probability(double chi_squared, std::size_t degrees_of_freedom) {
  if (degrees_of_freedom == 0 || !(chi_squared > 0)) return 1;
  const boost::math::chi_squared distribution(static_cast<double>(degrees_of_freedom));
  return boost::math::cdf(boost::math::complement(distribution, chi_squared));
}

void Random::philox(const std::uint32_t counter[4], const std::uint32_t key[2], std::uint32_t out[4]) {
  std::uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
  std::uint32_t k0 = key[0], k1 = key[1];
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t a = std::uint64_t{0xD2511F53U} * c0;
    const std::uint64_t b = std::uint64_t{0xCD9E8D57U} * c2;
    const auto high = [](std::uint64_t x) { return static_cast<std::uint32_t>(x >> 32U); };
    const auto low = [](std::uint64_t x) { return static_cast<std::uint32_t>(x & 0xFFFFFFFFU); };
    c0 = high(b) ^ c1 ^ k0;
    c2 = high(a) ^ c3 ^ k1;
    c1 = low(b);
    c3 = low(a);
    k0 += 0x9E3779B9U;
    k1 += 0xBB67AE85U;
  }
  out[0] = c0, out[1] = c1, out[2] = c2, out[3] = c3;
}

double Random::uniform(std::uint64_t stream, std::uint64_t index) const {
  const std::uint32_t counter[4] = {
      static_cast<std::uint32_t>(index), static_cast<std::uint32_t>(index >> 32U),
      static_cast<std::uint32_t>(stream), static_cast<std::uint32_t>(stream >> 32U)};
  const std::uint32_t key[2] = {static_cast<std::uint32_t>(seed_), static_cast<std::uint32_t>(seed_ >> 32U)};
  std::uint32_t out[4];
  philox(counter, key, out);
  const std::uint64_t bits = (std::uint64_t{out[0]} << 32U | out[1]) >> 11U;  // 53 bits
  return (static_cast<double>(bits) + 0.5) * 0x1p-53;
}

double Random::normal(std::uint64_t stream, std::uint64_t index) const {
  // Box and Muller, Ann. Math. Stat. 29, 610 (1958): one of the pair.
  const double a = uniform(stream, 2 * index), b = uniform(stream, 2 * index + 1);
  return std::sqrt(-2 * std::log(a)) * std::cos(2 * std::numbers::pi * b);
}

MonteCarlo monte_carlo(const std::vector<RandomInput>& inputs,
                       const std::function<double(const std::vector<double>&)>& model, std::uint64_t seed,
                       std::size_t trials) {
  const Random random(seed);
  std::vector<double> x(inputs.size());
  std::vector<double> y(std::max<std::size_t>(trials, 2));
  MonteCarlo result;
  for (std::size_t trial = 0; trial < y.size(); ++trial) {
    for (std::size_t i = 0; i < inputs.size(); ++i) x[i] = draw(inputs[i], random, i, trial);
    y[trial] = model(x);
    result.mean += y[trial];
  }
  result.mean /= static_cast<double>(y.size());
  double squares = 0;
  for (double value : y) squares += (value - result.mean) * (value - result.mean);
  result.uncertainty = std::sqrt(squares / static_cast<double>(y.size() - 1));
  std::sort(y.begin(), y.end());
  result.low = quantile(y, 0.025);
  result.high = quantile(y, 0.975);
  return result;
}

}  // namespace vacuary::physics
