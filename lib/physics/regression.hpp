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

}  // namespace vacuary::physics
