#include "physics/regression.hpp"

#include <algorithm>
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

double dot_short(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
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

LeastSquares least_squares(const std::vector<std::vector<double>>& columns, const std::vector<double>& y,
                           const std::vector<double>& weights) {
  const std::size_t n = y.size(), m = columns.size();
  LeastSquares fit;
  std::vector<std::vector<double>> q = columns;
  std::vector<std::vector<double>> r(m, std::vector<double>(m, 0.0));
  fit.residuals = y;
  for (std::size_t i = 0; i < n; ++i) {
    const double root = std::sqrt(weights[i]);
    fit.residuals[i] *= root;
    for (std::size_t j = 0; j < m; ++j) q[j][i] *= root;
  }
  const auto dot = [n](const std::vector<double>& a, const std::vector<double>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) sum += a[i] * b[i];
    return sum;
  };
  std::vector<double> z(m, 0.0);
  for (std::size_t j = 0; j < m; ++j) {
    const double before = std::sqrt(dot(q[j], q[j]));
    for (std::size_t k = 0; k < j; ++k) {
      r[k][j] = dot(q[k], q[j]);
      for (std::size_t i = 0; i < n; ++i) q[j][i] -= r[k][j] * q[k][i];
    }
    r[j][j] = std::sqrt(dot(q[j], q[j]));
    if (!(r[j][j] > 1e-10 * before)) {
      fit.determined = false;
      r[j][j] = 1e-10 * before + 1e-300;
    }
    for (double& x : q[j]) x /= r[j][j];
    z[j] = dot(q[j], fit.residuals);
    for (std::size_t i = 0; i < n; ++i) fit.residuals[i] -= z[j] * q[j][i];
  }
  fit.chi_squared = dot(fit.residuals, fit.residuals);
  // Rows of R^-1; parameters R^-1 z, covariance R^-1 R^-T.
  std::vector<std::vector<double>> inverse(m, std::vector<double>(m, 0.0));
  for (std::size_t j = 0; j < m; ++j) {
    inverse[j][j] = 1 / r[j][j];
    for (std::size_t i = j; i-- > 0;) {
      double sum = 0;
      for (std::size_t k = i + 1; k <= j; ++k) sum += r[i][k] * inverse[k][j];
      inverse[i][j] = -sum / r[i][i];
    }
  }
  fit.parameters.assign(m, 0.0);
  fit.covariance.assign(m, std::vector<double>(m, 0.0));
  for (std::size_t i = 0; i < m; ++i) {
    fit.parameters[i] = dot_short(inverse[i], z);
    for (std::size_t k = 0; k < m; ++k) fit.covariance[i][k] = dot_short(inverse[i], inverse[k]);
  }
  return fit;
}

double correlation_inflation(const std::vector<double>& residuals) {
  double squares = 0, neighbours = 0;
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    squares += residuals[i] * residuals[i];
    if (i > 0) neighbours += residuals[i] * residuals[i - 1];
  }
  if (!(squares > 0)) return 1;
  const double r = std::clamp(neighbours / squares, 0.0, 0.99);
  return (1 + r) / (1 - r);
}

}  // namespace vacuary::physics
