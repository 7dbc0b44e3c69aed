#include "rehearse/film.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::rehearse {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double element_m = 0.008;  // longest racetrack element: a twenty-fifth of the throw

// Beyond its table, across the axis too, the shield stays as open as at the table's end.
double open_width_m(const std::vector<Opening>& shield, double x_m) {
  if (x_m <= shield.front().radius_m) {
    return shield.front().width_m;
  }
  for (std::size_t i = 1; i < shield.size(); ++i) {
    if (x_m <= shield[i].radius_m) {
      const Opening& a = shield[i - 1];
      const Opening& b = shield[i];
      return a.width_m + (b.width_m - a.width_m) * (x_m - a.radius_m) / (b.radius_m - a.radius_m);
    }
  }
  return shield.back().width_m;
}

struct Point {
  double x = 0, y = 0, z = 0;
};

// Does the straight ray from `from` to the glass at `to` pass the shield's opening? The shield's
// height is over the glass below it, so where the ray meets it is found by a few fixed-point steps.
bool passes_shield(const Geometry& g, const Point& from, const Point& to) {
  const double dz = from.z - to.z;
  double f = g.shield_height_m / dz;
  double x = 0;
  double y = 0;
  for (int i = 0; i < 3; ++i) {
    x = to.x + f * (from.x - to.x);
    y = to.y + f * (from.y - to.y);
    f = (sag_m(g, std::sqrt(x * x + y * y)) + g.shield_height_m - to.z) / dz;
  }
  x = to.x + f * (from.x - to.x);
  y = to.y + f * (from.y - to.y);
  return std::fabs(y) < open_width_m(g.shield, x) / 2;
}

void add_element(Geometry& g, bool follows, double throw_m, const Point& at, double length_m) {
  const double tilt = follows ? slope(g, at.x) : 0;
  const double unit = std::sqrt(1 + tilt * tilt);
  g.source.push_back(
      {at.x, at.y, (follows ? sag_m(g, at.x) : 0) + throw_m, tilt / unit, -1 / unit, length_m});
}

}  // namespace

double sag_m(const Geometry& g, double r_m) {
  const double c = g.curvature_per_m;
  return c * r_m * r_m / (1 + std::sqrt(std::max(0.0, 1 - (1 + g.conic) * c * c * r_m * r_m)));
}

double slope(const Geometry& g, double r_m) {
  const double c = g.curvature_per_m;
  return c * r_m / std::sqrt(std::max(1e-6, 1 - (1 + g.conic) * c * c * r_m * r_m));
}

Geometry geometry_of(const plan::Cathode& cathode, const plan::Optic& optic, const Built& built) {
  Geometry g;
  g.exponent = built.exponent;
  g.curvature_per_m = 1 / optic.radius_of_curvature.value.value();
  g.conic = optic.conic_constant.value.value();
  g.shield_height_m =
      cathode.shield_height ? std::max(0.0, cathode.shield_height->value.value() + built.shield_height_m) : 0;
  for (const plan::ShieldPoint& point : cathode.shield_opening) {
    g.shield.push_back(
        {point.radius.value.value(), std::max(0.0, point.opening.value.value() + built.shield_opening_m)});
  }
  const double half = cathode.racetrack_half_width.value.value();
  const double inner = cathode.racetrack_inner.value.value() + built.racetrack_inner_m + half;
  const double outer = cathode.racetrack_outer.value.value() + built.racetrack_outer_m - half;
  const bool follows = cathode.follows_surface;
  const double straight_m = std::max(outer - inner, 0.0);
  const int straight = static_cast<int>(std::ceil(straight_m / element_m));
  for (int i = 0; i < straight; ++i) {
    const double x = inner + straight_m * (i + 0.5) / straight;
    add_element(g, follows, built.throw_m, {x, half}, straight_m / straight);
    add_element(g, follows, built.throw_m, {x, -half}, straight_m / straight);
  }
  const int turn = std::max(1, static_cast<int>(std::ceil(pi * half / element_m)));
  for (int i = 0; i < turn; ++i) {
    const double t = pi * ((i + 0.5) / turn - 0.5);
    const double y = half * std::sin(t);
    add_element(g, follows, built.throw_m, {inner + straight_m + half * std::cos(t), y}, pi * half / turn);
    add_element(g, follows, built.throw_m, {inner - half * std::cos(t), y}, pi * half / turn);
  }
  return g;
}

double raw_kernel(const Geometry& g, double r_m, double psi_rad) {
  const Point p{r_m * std::cos(psi_rad), r_m * std::sin(psi_rad), sag_m(g, r_m)};
  const double tilt = slope(g, r_m);
  const double unit = 1 / std::sqrt(1 + tilt * tilt);
  const Point normal{-tilt * std::cos(psi_rad) * unit, -tilt * std::sin(psi_rad) * unit, unit};
  double sum = 0;
  double length_m = 0;
  for (const Element& e : g.source) {
    length_m += e.length_m;
    const Point d{e.x_m - p.x, e.y_m - p.y, e.z_m - p.z};
    const double d2 = d.x * d.x + d.y * d.y + d.z * d.z;
    const double distance = std::sqrt(d2);
    const double emission = -(d.x * e.nx + d.z * e.nz) / distance;
    const double incidence = (d.x * normal.x + d.y * normal.y + d.z * normal.z) / distance;
    if (emission <= 0 || incidence <= 0 || d.z <= 0) {
      continue;
    }
    if (!g.shield.empty() && !passes_shield(g, {e.x_m, e.y_m, e.z_m}, p)) {
      continue;
    }
    sum += e.length_m * (g.exponent == 1 ? emission : std::pow(emission, g.exponent)) * incidence / d2;
  }
  return sum / length_m;
}

namespace {

// The source is the same on either side of its line, so half a turn is enough.
void fill_turn(const Geometry& g, double r_m, double* row) {
  constexpr std::size_t n = Kernel::per_turn;
  for (std::size_t i = 0; i <= n / 2; ++i) {
    const double value = raw_kernel(g, r_m, 2 * pi * static_cast<double>(i) / n);
    row[i] = value;
    row[(n - i) % n] = value;
  }
}

double mean_of(const double* row) {
  double sum = 0;
  for (std::size_t i = 0; i < Kernel::per_turn; ++i) {
    sum += row[i];
  }
  return sum / static_cast<double>(Kernel::per_turn);
}

}  // namespace

Kernel::Kernel(const Geometry& geometry, const std::vector<double>& radii_m, double reference_radius_m)
    : table_(radii_m.size() * per_turn) {
  std::vector<double> reference(per_turn);
  fill_turn(geometry, reference_radius_m, reference.data());
  const double scale = 1 / mean_of(reference.data());
  for (std::size_t r = 0; r < radii_m.size(); ++r) {
    fill_turn(geometry, radii_m[r], &table_[r * per_turn]);
  }
  for (double& value : table_) {
    value *= scale;
  }
}

double Kernel::turn_average(std::size_t radius) const { return mean_of(row(radius)); }

FilmGrid::FilmGrid(double inner_radius_m, double outer_radius_m, std::size_t radii, std::size_t angles)
    : angles_(angles), thickness_m_(radii * angles) {
  for (std::size_t i = 0; i < radii; ++i) {
    radii_m_.push_back(inner_radius_m + (outer_radius_m - inner_radius_m) * static_cast<double>(i) /
                                            static_cast<double>(radii - 1));
  }
}

void FilmGrid::lay(const Kernel& kernel, double theta_rad, double dose_m) {
  constexpr double n = static_cast<double>(Kernel::per_turn);
  for (std::size_t a = 0; a < angles_; ++a) {
    const double turns = static_cast<double>(a) / static_cast<double>(angles_) - theta_rad / (2 * pi);
    const double position = (turns - std::floor(turns)) * n;
    const auto low = std::min(static_cast<std::size_t>(position), Kernel::per_turn - 1);
    const double share = position - static_cast<double>(low);
    const std::size_t high = (low + 1) % Kernel::per_turn;
    for (std::size_t r = 0; r < radii_m_.size(); ++r) {
      const double* row = kernel.row(r);
      thickness_m_[r * angles_ + a] += dose_m * (row[low] + share * (row[high] - row[low]));
    }
  }
}

// Trapezoid in r with the weight r.
double FilmGrid::mean_m() const {
  double sum = 0;
  double weight = 0;
  for (std::size_t r = 0; r < radii_m_.size(); ++r) {
    const double w = radii_m_[r] * (r == 0 || r + 1 == radii_m_.size() ? 0.5 : 1);
    for (std::size_t a = 0; a < angles_; ++a) {
      sum += w * at(r, a);
    }
    weight += w * static_cast<double>(angles_);
  }
  return sum / weight;
}

FilmGrid::Place FilmGrid::place(std::size_t index) const {
  return {thickness_m_[index], radii_m_[index / angles_],
          2 * pi * static_cast<double>(index % angles_) / static_cast<double>(angles_)};
}

FilmGrid::Place FilmGrid::thinnest() const {
  return place(static_cast<std::size_t>(std::min_element(thickness_m_.begin(), thickness_m_.end()) -
                                        thickness_m_.begin()));
}

FilmGrid::Place FilmGrid::thickest() const {
  return place(static_cast<std::size_t>(std::max_element(thickness_m_.begin(), thickness_m_.end()) -
                                        thickness_m_.begin()));
}

FilmGrid FilmGrid::minus(const FilmGrid& other) const {
  FilmGrid difference = *this;
  for (std::size_t i = 0; i < thickness_m_.size(); ++i) {
    difference.thickness_m_[i] -= other.thickness_m_[i];
  }
  return difference;
}

}  // namespace vacuary::rehearse
