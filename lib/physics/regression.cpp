#include "physics/regression.hpp"

#include <cmath>

namespace vacuary::physics {
namespace {

// Sums about the weighted mean of x, which keeps digits when x is far from zero.
Line weighted_line(const std::vector<double>& x, const std::vector<double>& y, const std::vector<double>& w) {
  double sw = 0, mean_x = 0, mean_y = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sw += w[i];
    mean_x += w[i] * x[i];
    mean_y += w[i] * y[i];
  }
  mean_x /= sw;
  mean_y /= sw;
  double sxx = 0, sxy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sxx += w[i] * (x[i] - mean_x) * (x[i] - mean_x);
    sxy += w[i] * (x[i] - mean_x) * (y[i] - mean_y);
  }
  Line line;
  line.slope = sxy / sxx;  // (L1)
  line.intercept = mean_y - line.slope * mean_x;
  line.slope_uncertainty = std::sqrt(1 / sxx);
  line.intercept_uncertainty = std::sqrt(1 / sw + mean_x * mean_x / sxx);
  line.covariance = -mean_x / sxx;
  double squares = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double r = y[i] - line.at(x[i]);
    squares += w[i] * r * r;
  }
  const double freedom = static_cast<double>(x.size()) - 2;
  line.residual_deviation = freedom > 0 ? std::sqrt(squares / freedom) : 0;  // (L2)
  return line;
}

}  // namespace

Line fit_line(const std::vector<double>& x, const std::vector<double>& y) {
  Line line = weighted_line(x, y, std::vector<double>(x.size(), 1.0));
  const double s = line.residual_deviation;
  line.slope_uncertainty *= s;
  line.intercept_uncertainty *= s;
  line.covariance *= s * s;
  return line;
}

Line fit_line(const std::vector<double>& x, const std::vector<double>& y,
              const std::vector<double>& y_uncertainty) {
  std::vector<double> w;
  w.reserve(y_uncertainty.size());
  for (double u : y_uncertainty) w.push_back(1 / (u * u));
  return weighted_line(x, y, w);
}

}  // namespace vacuary::physics
