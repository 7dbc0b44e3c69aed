// Least squares with a model that is no straight line in its parameters, and what the data say of each.
//
//   (N1)  minimise chi^2(p) = sum r_i(p)^2, r_i = (measured - model(p)) / u_i, by Levenberg and Marquardt
//   (N2)  covariance (J^T J)^-1 at the minimum, J = dr/dp, the u_i taken as known
//   (N3)  correlation of two parameters, cov_jk / sqrt(cov_jj cov_kk)
//
// Range: one minimum near the start, residuals that bend little over the parameters' uncertainty. A
// parameter the data do not tell has a variance without bound; it is given as 1e12 scales squared.
// Source: J. J. More, Lecture Notes in Mathematics 630, 105 (1978), as kept in Eigen's NonLinearOptimization
// (MINPACK's lmder); (N2) P. R. Bevington, Data Reduction and Error Analysis (1969), ch. 11.
#pragma once

#include <functional>
#include <vector>

namespace vacuary::physics {

// Fills as many residuals as were announced.
using Residuals = std::function<void(const std::vector<double>& parameters, std::vector<double>& residuals)>;

struct NonlinearFit {
  std::vector<double> parameters;
  std::vector<std::vector<double>> covariance;  // (N2)
  std::vector<std::vector<double>> jacobian;    // a row a residual
  std::vector<double> residuals;                // at the minimum
  double chi_squared = 0;
  bool converged = false;
  [[nodiscard]] double uncertainty(std::size_t parameter) const;
  [[nodiscard]] double correlation(std::size_t a, std::size_t b) const;  // (N3)
};

// `scales`: a change of each parameter that matters but is small (derivatives are taken over 1e-3 of it).
// Preconditions: at least as many residuals as parameters, scales more than zero.
[[nodiscard]] NonlinearFit fit_nonlinear(const Residuals& residuals, std::size_t count,
                                         const std::vector<double>& start, const std::vector<double>& scales);

// (N2) for rows of a Jacobian; `scales` as above.
[[nodiscard]] std::vector<std::vector<double>> covariance_of(const std::vector<std::vector<double>>& jacobian,
                                                             const std::vector<double>& scales);

}  // namespace vacuary::physics
