// Straight lines and linear least squares with the uncertainty of what was fitted.
//
//   (L1) y = b0 + b1 x, least squares over weights w_i = 1 / u_i^2
//   (L2) s^2 = sum w r^2 / (n - 2); covariance s^2 (X^T W X)^-1, or (X^T W X)^-1 when the u_i are known
//
// Range: errors in y only, independent of each other. Samples of a slow log are not: the caller states
// how many are.
// Source: P. R. Bevington, Data Reduction and Error Analysis for the Physical Sciences (1969), ch. 6; checked
// on the certified values of NIST StRD.
#pragma once

#include <vector>

namespace vacuary::physics {

struct Line {
  double intercept = 0, slope = 0;
  double intercept_uncertainty = 0, slope_uncertainty = 0;
  double covariance = 0;          // of intercept and slope
  double residual_deviation = 0;  // s
  [[nodiscard]] double at(double x) const { return intercept + slope * x; }
};

// Unit weights, scatter from the residuals. Preconditions: at least three points, not all of one x.
[[nodiscard]] Line fit_line(const std::vector<double>& x, const std::vector<double>& y);

// Known standard uncertainties of y: they alone set those of the line. At least two points.
[[nodiscard]] Line fit_line(const std::vector<double>& x, const std::vector<double>& y,
                            const std::vector<double>& y_uncertainty);

// y = sum_j b_j x_j over given columns, weights w_i. At most four columns, more rows than columns.
// By modified Gram-Schmidt, which keeps digits where normal equations would lose them.
struct LeastSquares {
  std::vector<double> parameters;
  std::vector<std::vector<double>> covariance;  // (X^T W X)^-1, not scaled by the scatter
  std::vector<double> residuals;                // y - fit, times sqrt(w)
  double chi_squared = 0;                       // sum of their squares
  bool determined = true;                       // false: columns are as good as dependent
};
[[nodiscard]] LeastSquares least_squares(const std::vector<std::vector<double>>& columns,
                                         const std::vector<double>& y, const std::vector<double>& weights);

// How much larger variances are than the scatter alone says, because neighbouring samples share their
// errors: (1 + r) / (1 - r), r the correlation of neighbouring residuals, at least 1.
[[nodiscard]] double correlation_inflation(const std::vector<double>& residuals);

// Least of `f` between `low` and `high`: a grid of `grid` cells, then golden section in the best three.
template <class F>
[[nodiscard]] double minimise(F f, double low, double high, int grid = 40) {
  double best = low, least = f(low);
  for (int i = 1; i <= grid; ++i) {
    const double x = low + (high - low) * i / grid;
    if (const double y = f(x); y < least) least = y, best = x;
  }
  const double cell = (high - low) / grid;
  double a = best - cell < low ? low : best - cell, b = best + cell > high ? high : best + cell;
  constexpr double golden = 0.6180339887498949;
  double c = b - golden * (b - a), d = a + golden * (b - a), fc = f(c), fd = f(d);
  for (int i = 0; i < 60; ++i) {
    if (fc < fd) {
      b = d, d = c, fd = fc, c = b - golden * (b - a), fc = f(c);
    } else {
      a = c, c = d, fc = fd, d = a + golden * (b - a), fd = f(d);
    }
  }
  return (a + b) / 2;
}

}  // namespace vacuary::physics
