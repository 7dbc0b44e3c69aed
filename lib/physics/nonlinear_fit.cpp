#include "physics/nonlinear_fit.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <unsupported/Eigen/NonLinearOptimization>

namespace vacuary::physics {
namespace {

constexpr double derivative_share = 1e-3;   // of a scale
constexpr double least_eigenvalue = 1e-12;  // of J^T J in scales: below it nothing was learnt

// The problem in parameters counted in their scales, as Eigen's solver wants it.
class Problem {
 public:
  Problem(const Residuals& residuals, std::size_t count, std::vector<double> start,
          std::vector<double> scales)
      : residuals_(residuals), count_(count), start_(std::move(start)), scales_(std::move(scales)) {}

  [[nodiscard]] int inputs() const { return static_cast<int>(start_.size()); }
  [[nodiscard]] int values() const { return static_cast<int>(count_); }

  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& r) const {
    std::vector<double> out(count_);
    residuals_(parameters(x), out);
    r = Eigen::Map<const Eigen::VectorXd>(out.data(), values());
    return 0;
  }
  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian) const {
    Eigen::VectorXd above(values()), below(values());
    for (int j = 0; j < inputs(); ++j) {
      Eigen::VectorXd moved = x;
      moved[j] = x[j] + derivative_share;
      (*this)(moved, above);
      moved[j] = x[j] - derivative_share;
      (*this)(moved, below);
      jacobian.col(j) = (above - below) / (2 * derivative_share);
    }
    return 0;
  }
  [[nodiscard]] std::vector<double> parameters(const Eigen::VectorXd& x) const {
    std::vector<double> p(start_.size());
    for (std::size_t j = 0; j < p.size(); ++j)
      p[j] = start_[j] + scales_[j] * x[static_cast<Eigen::Index>(j)];
    return p;
  }

 private:
  const Residuals& residuals_;
  std::size_t count_;
  std::vector<double> start_, scales_;
};

// (N2) in scales; directions the data do not touch get a large variance and not a division by zero.
Eigen::MatrixXd inverse_information(const Eigen::MatrixXd& jacobian) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(jacobian.transpose() * jacobian);
  const Eigen::VectorXd inverse = solver.eigenvalues().cwiseMax(least_eigenvalue).cwiseInverse();
  return solver.eigenvectors() * inverse.asDiagonal() * solver.eigenvectors().transpose();
}

std::vector<std::vector<double>> rows_of(const Eigen::MatrixXd& matrix, const std::vector<double>& row_scales,
                                         const std::vector<double>& column_scales) {
  std::vector<std::vector<double>> rows(static_cast<std::size_t>(matrix.rows()));
  for (std::size_t i = 0; i < rows.size(); ++i) {
    for (std::size_t j = 0; j < column_scales.size(); ++j) {
      const double scale = (row_scales.empty() ? 1 : row_scales[i]) * column_scales[j];
      rows[i].push_back(scale * matrix(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)));
    }
  }
  return rows;
}

}  // namespace

double NonlinearFit::uncertainty(std::size_t parameter) const {
  return std::sqrt(covariance[parameter][parameter]);
}

double NonlinearFit::correlation(std::size_t a, std::size_t b) const {
  return covariance[a][b] / (uncertainty(a) * uncertainty(b));
}

NonlinearFit fit_nonlinear(const Residuals& residuals, std::size_t count, const std::vector<double>& start,
                           const std::vector<double>& scales) {
  Problem problem(residuals, count, start, scales);
  Eigen::LevenbergMarquardt<Problem> solver(problem);
  solver.parameters.ftol = 1e-12;
  solver.parameters.xtol = 1e-10;
  solver.parameters.maxfev = 200;
  Eigen::VectorXd x = Eigen::VectorXd::Zero(problem.inputs());
  const auto status = solver.minimize(x);
  NonlinearFit fit;
  fit.converged = status == Eigen::LevenbergMarquardtSpace::RelativeReductionTooSmall ||
                  status == Eigen::LevenbergMarquardtSpace::RelativeErrorTooSmall ||
                  status == Eigen::LevenbergMarquardtSpace::RelativeErrorAndReductionTooSmall ||
                  status == Eigen::LevenbergMarquardtSpace::CosinusTooSmall ||
                  status == Eigen::LevenbergMarquardtSpace::FtolTooSmall ||
                  status == Eigen::LevenbergMarquardtSpace::XtolTooSmall;
  fit.parameters = problem.parameters(x);
  fit.residuals.resize(count);
  residuals(fit.parameters, fit.residuals);
  for (const double r : fit.residuals) fit.chi_squared += r * r;
  Eigen::MatrixXd jacobian(problem.values(), problem.inputs());
  problem.df(x, jacobian);
  std::vector<double> inverse_scales;
  for (const double s : scales) inverse_scales.push_back(1 / s);
  fit.jacobian = rows_of(jacobian, {}, inverse_scales);
  fit.covariance = rows_of(inverse_information(jacobian), scales, scales);
  return fit;
}

std::vector<std::vector<double>> covariance_of(const std::vector<std::vector<double>>& jacobian,
                                               const std::vector<double>& scales) {
  Eigen::MatrixXd scaled(static_cast<Eigen::Index>(jacobian.size()),
                         static_cast<Eigen::Index>(scales.size()));
  for (std::size_t i = 0; i < jacobian.size(); ++i) {
    for (std::size_t j = 0; j < scales.size(); ++j)
      scaled(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = jacobian[i][j] * scales[j];
  }
  return rows_of(inverse_information(scaled), scales, scales);
}

}  // namespace vacuary::physics
