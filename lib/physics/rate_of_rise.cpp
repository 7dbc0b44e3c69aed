#include "physics/rate_of_rise.hpp"

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "physics/regression.hpp"

namespace vacuary::physics {
namespace {

constexpr double one_sided_95 = 1.645;
constexpr double believed_p = 0.01;

using Columns = std::vector<std::vector<double>>;

struct Data {
  std::vector<double> t, p, weights;
  [[nodiscard]] double length() const { return t.back() - t.front(); }
};

Data usable(const std::vector<RiseSample>& samples) {
  Data d;
  for (const RiseSample& s : samples) {
    if (!std::isfinite(s.time.value()) || !std::isfinite(s.pressure.value())) continue;
    d.t.push_back(s.time.value());
    d.p.push_back(s.pressure.value());
    d.weights.push_back(1);
  }
  return d;
}

Columns columns(const Data& d, double tau_s) {
  Columns c{std::vector<double>(d.t.size(), 1.0), d.t};
  if (tau_s <= 0) return c;
  std::vector<double> bend;
  for (double t : d.t) bend.push_back(-std::expm1(-(t - d.t.front()) / tau_s));
  c.push_back(std::move(bend));
  return c;
}

Estimate<PressureRate> rate(const LeastSquares& fit, double scale) {
  return {PressureRate::from_value(fit.parameters[1]),
          PressureRate::from_value(std::sqrt(fit.covariance[1][1] * scale))};
}

// Probability that two more parameters lower the squares this far by chance.
double chance(const LeastSquares& line, const LeastSquares& curve, double samples, double inflation) {
  const double freedom = samples / inflation - 4;
  if (freedom < 1) return 1;
  const double f = (line.chi_squared - curve.chi_squared) / 2 / curve.chi_squared * freedom;
  if (!(f < 1e9)) return 0;  // the curve leaves nothing over
  return f > 0 ? boost::math::cdf(boost::math::complement(boost::math::fisher_f(2, freedom), f)) : 1;
}

Estimate<PressureRate> slope_of(const Data& d, std::size_t from, std::size_t to) {
  const auto cut = [&](const std::vector<double>& v) {
    return std::vector<double>(v.begin() + static_cast<std::ptrdiff_t>(from),
                               v.begin() + static_cast<std::ptrdiff_t>(to));
  };
  const Data part{cut(d.t), cut(d.p), cut(d.weights)};
  const LeastSquares line = least_squares(columns(part, 0), part.p, part.weights);
  return rate(
      line, line.chi_squared / (static_cast<double>(to - from) - 2) * correlation_inflation(line.residuals));
}

// The last third rises faster than the first by more than four standard uncertainties.
bool accelerates(const Data& d) {
  const std::size_t third = d.t.size() / 3;
  if (third < 6) return false;
  const Estimate<PressureRate> first = slope_of(d, 0, third),
                               last = slope_of(d, d.t.size() - third, d.t.size());
  return (last.value - first.value).value() >
         4 * std::hypot(first.standard_uncertainty.value(), last.standard_uncertainty.value());
}

PressureRate bound(const Estimate<PressureRate>& r) {
  return r.value + one_sided_95 * r.standard_uncertainty;
}

}  // namespace

Pressure risen(const RiseCurve& curve, Duration t) {
  Pressure p = curve.p0 + Pressure::from_value(curve.a.value() * t.value());
  if (curve.tau.value() > 0) p += -std::expm1(-t.value() / curve.tau.value()) * curve.b;
  return p;  // (R1)
}

const char* name(RiseReading reading) {
  switch (reading) {
    case RiseReading::no_rise:
      return "no rise";
    case RiseReading::straight:
      return "straight";
    case RiseReading::bends:
      return "bends over";
    case RiseReading::accelerates:
      return "accelerates";
  }
  return "";
}

const char* name(RiseOrigin origin) {
  switch (origin) {
    case RiseOrigin::leak:
      return "leak";
    case RiseOrigin::walls:
      return "walls";
    case RiseOrigin::cannot_tell:
      return "cannot tell";
  }
  return "";
}

std::optional<RiseFit> fit_rise(const std::vector<RiseSample>& samples) {
  const Data d = usable(samples);
  if (d.t.size() < 8 || !(d.length() > 0)) return std::nullopt;
  const auto n = static_cast<double>(d.t.size());
  const LeastSquares line = least_squares(columns(d, 0), d.p, d.weights);
  const auto squares = [&](double log_tau) {
    return least_squares(columns(d, std::exp(log_tau)), d.p, d.weights).chi_squared;
  };
  // From a few samples to three times the test: what saturates later is straight here.
  const double log_tau = minimise(squares, std::log(2 * d.length() / n), std::log(3 * d.length()));
  const LeastSquares curve = least_squares(columns(d, std::exp(log_tau)), d.p, d.weights);
  const double inflation = correlation_inflation(curve.residuals);
  const bool believed = curve.determined && chance(line, curve, n, inflation) < believed_p;

  RiseFit fit;
  fit.samples = d.t.size();
  // A line's scatter includes the bend it cannot follow: that is in its uncertainty on purpose.
  fit.slope = rate(line, line.chi_squared / (n - 2) * correlation_inflation(line.residuals));
  fit.steady = fit.slope;
  fit.reading =
      fit.slope.value > 2.0 * fit.slope.standard_uncertainty ? RiseReading::straight : RiseReading::no_rise;
  if (accelerates(d)) {
    fit.reading = RiseReading::accelerates;
  } else if (believed && curve.parameters[2] > 0 && std::exp(log_tau) < d.length()) {
    const double scale = curve.chi_squared / (n - 4) * inflation;
    // tau is fitted too: its column widens the others.
    Columns with_tau = columns(d, std::exp(log_tau));
    std::vector<double> by_tau;
    for (double t : d.t) {
      const double x = (t - d.t.front()) / std::exp(log_tau);
      by_tau.push_back(-curve.parameters[2] * x * std::exp(-x));
    }
    with_tau.push_back(std::move(by_tau));
    const LeastSquares all = least_squares(with_tau, d.p, d.weights);
    fit.reading = RiseReading::bends;
    fit.steady = {PressureRate::from_value(curve.parameters[1]),
                  PressureRate::from_value(std::sqrt(all.covariance[1][1] * scale))};
    fit.saturating = {Pressure::from_value(curve.parameters[2]),
                      Pressure::from_value(std::sqrt(all.covariance[2][2] * scale))};
    fit.tau = Duration::from_value(std::exp(log_tau));
  }
  fit.leak_rate_at_most = std::max(bound(fit.steady), PressureRate{});
  return fit;
}

TwoRises combine_rises(const Estimate<PressureRate>& first, Duration first_clock,
                       const Estimate<PressureRate>& second, Duration second_clock,
                       const Estimate<Ratio>& exponent) {
  const auto leak = [&](double s1, double s2, double n) {
    const double ratio = std::pow(second_clock.value() / first_clock.value(), n);
    return (s2 * ratio - s1) / (ratio - 1);  // (R3)
  };
  const double s1 = first.value.value(), s2 = second.value.value(), n = exponent.value.value();
  const double l = leak(s1, s2, n);
  const double by_first = leak(s1 + first.standard_uncertainty.value(), s2, n) - l;
  const double by_second = leak(s1, s2 + second.standard_uncertainty.value(), n) - l;
  // In the exponent l is far from straight: its two sides are taken at the ends of the interval themselves.
  const double un = exponent.standard_uncertainty.value();
  const double up = leak(s1, s2, n + one_sided_95 * un) - l;
  const double down = l - leak(s1, s2, std::max(n - one_sided_95 * un, 0.05));
  const double by_slopes = one_sided_95 * std::hypot(by_first, by_second);
  const double high = l + std::hypot(up, by_slopes), low = l - std::hypot(down, by_slopes);
  TwoRises result;
  result.leak = {PressureRate::from_value(l), PressureRate::from_value((high - low) / 2 / one_sided_95)};
  result.leak_at_most = PressureRate::from_value(std::max(high, 0.0));
  if (!(s2 > 2 * second.standard_uncertainty.value()) || !std::isfinite(low) || !std::isfinite(high))
    return result;
  if (low > s2 / 2) result.origin = RiseOrigin::leak;
  if (high < s2 / 2) result.origin = RiseOrigin::walls;
  return result;
}

}  // namespace vacuary::physics
