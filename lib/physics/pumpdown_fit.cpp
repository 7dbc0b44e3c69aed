#include "physics/pumpdown_fit.hpp"

#include <algorithm>
#include <cmath>

#include "physics/regression.hpp"

namespace vacuary::physics {
namespace {

constexpr double one_sided_95 = 1.645;

struct Samples {
  std::vector<double> hours, pa, weights;  // weights for relative residuals
};

Samples usable(const std::vector<PressureSample>& samples) {
  Samples s;
  for (const PressureSample& sample : samples) {
    const double t = sample.time.value(), p = sample.pressure.value();
    if (!(t > 0) || !(p > 0) || !std::isfinite(t) || !std::isfinite(p)) continue;
    s.hours.push_back(t / 3600);
    s.pa.push_back(p);
    s.weights.push_back(1 / (p * p));
  }
  return s;
}

std::vector<double> powers(const std::vector<double>& hours, double n) {
  std::vector<double> column;
  column.reserve(hours.size());
  for (double t : hours) column.push_back(std::pow(t, -n));
  return column;
}

// a and c for one exponent; c held at zero where it would be negative.
struct Inner {
  double a = 0, c = 0, chi_squared = 0;
  std::vector<double> residuals;
};
Inner inner(const Samples& s, double n) {
  const std::vector<double> column = powers(s.hours, n);
  const LeastSquares both = least_squares({column, std::vector<double>(s.pa.size(), 1.0)}, s.pa, s.weights);
  if (both.determined && both.parameters[1] >= 0 && both.parameters[0] > 0) {
    return {both.parameters[0], both.parameters[1], both.chi_squared, both.residuals};
  }
  const LeastSquares alone = least_squares({column}, s.pa, s.weights);
  return {alone.parameters[0], 0, alone.chi_squared, alone.residuals};
}

}  // namespace

std::optional<DecayFit> fit_decay(const std::vector<PressureSample>& samples) {
  const Samples s = usable(samples);
  if (s.pa.size() < 12) return std::nullopt;
  const auto [first, last] = std::minmax_element(s.hours.begin(), s.hours.end());
  if (*last < 2 * *first) return std::nullopt;
  const double n = minimise([&](double x) { return inner(s, x).chi_squared; }, 0.02, 3.0);
  const Inner best = inner(s, n);
  // The Jacobian at the optimum gives the covariance of a, c and n together.
  std::vector<double> slope = powers(s.hours, n);
  for (std::size_t i = 0; i < slope.size(); ++i) slope[i] *= -best.a * std::log(s.hours[i]);
  const LeastSquares at =
      least_squares({powers(s.hours, n), std::vector<double>(s.pa.size(), 1.0), slope}, s.pa, s.weights);
  const double freedom = static_cast<double>(s.pa.size()) - 3;
  const double scale = best.chi_squared / freedom * correlation_inflation(best.residuals);
  const auto u = [&](std::size_t i) { return std::sqrt(at.covariance[i][i] * scale); };
  DecayFit fit;
  fit.at_1h = {Pressure::from_value(best.a), Pressure::from_value(u(0))};
  fit.floor = {Pressure::from_value(best.c), Pressure::from_value(u(1))};
  fit.exponent = {Ratio::of(n), Ratio::of(u(2))};
  fit.floor_seen = best.c > 2 * u(1);
  fit.floor_at_most = Pressure::from_value(best.c + one_sided_95 * u(1));
  fit.scatter = Ratio::of(std::sqrt(best.chi_squared / freedom));
  fit.samples = s.pa.size();
  return fit;
}

std::optional<SpeedFit> fit_speed(const std::vector<PressureSample>& samples, Volume volume, Pressure floor) {
  std::vector<double> t, y;
  double high = 0, low = 0;
  for (const PressureSample& sample : samples) {
    const double p = sample.pressure.value();
    if (!std::isfinite(p) || !std::isfinite(sample.time.value()) || !(p > 2 * floor.value()) || !(p > 0))
      continue;
    t.push_back(sample.time.value());
    y.push_back(std::log(p - floor.value()));
    high = std::max(high, p);
    low = low > 0 ? std::min(low, p) : p;
  }
  if (t.size() < 6 || high < 2 * low) return std::nullopt;
  const Line line = fit_line(t, y);
  if (!(line.slope < 0)) return std::nullopt;
  std::vector<double> residuals;
  for (std::size_t i = 0; i < t.size(); ++i) residuals.push_back(y[i] - line.at(t[i]));
  const double u = line.slope_uncertainty * std::sqrt(correlation_inflation(residuals));
  return SpeedFit{
      {PumpingSpeed::from_value(-line.slope * volume.value()), PumpingSpeed::from_value(u * volume.value())},
      t.size()};
}

Estimate<MolarFlow> wall_load(const DecayFit& decay, const Estimate<PumpingSpeed>& speed, Temperature gas) {
  const MolarFlow q = molar_flow(Throughput::of(decay.at_1h.value, speed.value), gas);
  const double relative = std::hypot(decay.at_1h.standard_uncertainty.value() / decay.at_1h.value.value(),
                                     speed.standard_uncertainty.value() / speed.value.value());
  return {q, q * relative};
}

}  // namespace vacuary::physics
