#include "run/leak.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace vacuary::run {
namespace {

constexpr double first_s = 300;
constexpr double bins_a_decade = 50;
constexpr double believed = 1.5;  // times the least sum of squares
constexpr double opens_gain = 3;  // (K2) must leave a quarter of (K1)
constexpr std::size_t least_stretches = 12;
constexpr std::size_t edge = 4;  // stretches needed on either side of t0

struct Point {
  double t_s, p_pa, q;
};

struct Fit {
  double squares = 0, inflow_pa = 0;
  double k = 0, e = 1;
  std::size_t opens = 0;  // index of the first stretch with the leak; 0: (K1)
};

// Relative least squares with two or three terms; Gauss on the normal equations.
Fit fit(const std::vector<Point>& points, double e, std::size_t opens) {
  const std::size_t terms = opens > 0 ? 3 : 2;
  double a[3][4] = {};
  const auto row = [&](std::size_t i, double(&x)[3]) {
    x[0] = std::pow(points[i].q, e) / points[i].p_pa;
    x[1] = 1 / points[i].p_pa;
    x[2] = i >= opens ? 1 / points[i].p_pa : 0;
  };
  for (std::size_t i = 0; i < points.size(); ++i) {
    double x[3];
    row(i, x);
    for (std::size_t j = 0; j < terms; ++j) {
      for (std::size_t k = 0; k < terms; ++k) a[j][k] += x[j] * x[k];
      a[j][3] += x[j];
    }
  }
  for (std::size_t j = 0; j < terms; ++j) {
    for (std::size_t k = 0; k < terms; ++k) {
      if (k == j || a[j][j] == 0) continue;
      const double factor = a[k][j] / a[j][j];
      for (std::size_t m = 0; m < 4; ++m) a[k][m] -= factor * a[j][m];
    }
  }
  double solution[3] = {};
  for (std::size_t j = 0; j < terms; ++j) solution[j] = a[j][j] == 0 ? 0 : a[j][3] / a[j][j];
  Fit out;
  out.opens = opens;
  out.inflow_pa = solution[1] + solution[2];
  out.k = solution[0];
  out.e = e;
  for (std::size_t i = 0; i < points.size(); ++i) {
    double x[3];
    row(i, x);
    const double off = solution[0] * x[0] + solution[1] * x[1] + solution[2] * x[2] - 1;
    out.squares += off * off;
  }
  return out;
}

const Fit* best_of(const std::vector<Fit>& fits, bool opening) {
  const Fit* best = nullptr;
  for (const Fit& one : fits) {
    if ((one.opens > 0) != opening) continue;
    if (best == nullptr || one.squares < best->squares) best = &one;
  }
  return best;
}

}  // namespace

void PressureFall::add(double t_s, double pressure_pa) {
  if (!(t_s >= first_s) || !(pressure_pa > 0)) return;
  const auto at = static_cast<std::size_t>(bins_a_decade * std::log10(t_s / first_s));
  if (at >= bins) return;
  ++bins_[at].n;
  bins_[at].ln_t.add(std::log(t_s));
  bins_[at].pressure_pa.add(pressure_pa);
}

std::optional<PressureFall::Inflow> PressureFall::inflow(
    const std::function<double(double)>& outgassing) const {
  std::vector<Point> points;
  for (const Bin& bin : bins_) {
    if (bin.n == 0) continue;
    const auto n = static_cast<double>(bin.n);
    const double t_s = std::exp(bin.ln_t.value() / n);
    points.push_back({t_s, bin.pressure_pa.value() / n, outgassing(t_s)});
  }
  if (points.size() < least_stretches) return std::nullopt;
  const double scale = points.front().q;
  if (!(scale > 0)) return std::nullopt;
  for (Point& point : points) point.q /= scale;
  std::vector<Fit> fits;
  for (int step = -6; step <= 6; ++step) {
    const double e = 1 + 0.05 * step;
    fits.push_back(fit(points, e, 0));
    for (std::size_t opens = edge; opens + edge <= points.size(); ++opens)
      fits.push_back(fit(points, e, opens));
  }
  const Fit* steady = best_of(fits, false);
  const Fit* opening = best_of(fits, true);
  const bool opens = opening != nullptr && opening->squares * opens_gain < steady->squares;
  const Fit& best = opens ? *opening : *steady;
  const double q_1h = outgassing(3600) / scale;
  const auto walls_1h = [&](const Fit& one) { return one.k * std::pow(q_1h, one.e); };
  Inflow out;
  out.best_pa = out.least_pa = best.inflow_pa;
  out.walls_1h_pa = out.walls_1h_least_pa = out.walls_1h_most_pa = walls_1h(best);
  out.exponent = best.e;
  out.from_s = points.front().t_s;
  out.to_s = points.back().t_s;
  for (const Fit& one : fits) {
    if ((one.opens > 0) != opens || !(one.squares < believed * best.squares)) continue;
    out.least_pa = std::min(out.least_pa, one.inflow_pa);
    out.walls_1h_least_pa = std::min(out.walls_1h_least_pa, walls_1h(one));
    out.walls_1h_most_pa = std::max(out.walls_1h_most_pa, walls_1h(one));
  }
  if (opens) out.opened_s = points[best.opens].t_s;
  return out;
}

}  // namespace vacuary::run
