// Film laid on an (r, theta) grid, stepped through time.
//
// A point of the glass sees each element of the racetrack with the weight
//   w = cos^n(emission) cos(incidence) / d^2                                             (1)
// (cosine-power emission from a small plane source: Holland and Steckelmacher, Vacuum 2, 346,
// 1952), zero where the straight ray passes the trim shield outside its opening. G(r, psi) is the
// mean over the racetrack for a point at radius r that stands psi behind the cathode's line, scaled
// so that its mean over a turn at the calibration's radius is 1. A dose kappa E of film then adds
//   dT(r, theta) = kappa dE G(r, theta - Theta)                                          (2)
// with Theta the angle of the optic that stands under the cathode.
//
// Simplified: atoms that the gas has scattered are lost, not spread; every element of the
// racetrack, the turns included, emits alike; the shield is thin and follows the glass; beyond its
// table, across the axis too, it stays as open as at the table's end.
#pragma once

#include <cstddef>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::rehearse {

// Straight or bent, a source is a set of small elements: position and unit normal, metres, the
// optic's vertex at the origin, z from the glass towards the cathode. What each emits goes by its
// length along the source.
struct Element {
  double x_m = 0, y_m = 0, z_m = 0;
  double nx = 0, nz = -1;  // the normal has no y component
  double length_m = 1;
};

struct Opening {
  double radius_m = 0, width_m = 0;
};

// What G depends on; drawn per seed around the plan's values.
struct Geometry {
  std::vector<Element> source;
  double exponent = 1;
  double curvature_per_m = 0;  // 1 / radius of curvature; 0: flat
  double conic = 0;
  double shield_height_m = 0;
  std::vector<Opening> shield;  // by radius; empty: none
};

// Height of the glass above its vertex plane at radius r, and its slope dz/dr.
[[nodiscard]] double sag_m(const Geometry& geometry, double r_m);
[[nodiscard]] double slope(const Geometry& geometry, double r_m);

// What of a cathode came out otherwise than planned: throw and exponent as they are, the rest over the
// plan's.
struct Built {
  double throw_m = 0, exponent = 1;
  double racetrack_inner_m = 0, racetrack_outer_m = 0;
  double shield_opening_m = 0, shield_height_m = 0;
};

// The racetrack of a cathode over an optic, as built.
[[nodiscard]] Geometry geometry_of(const plan::Cathode& cathode, const plan::Optic& optic,
                                   const Built& built);

// Mean of (1) over the length of the source, 1/m2, before any scaling.
[[nodiscard]] double raw_kernel(const Geometry& geometry, double r_m, double psi_rad);

// G tabulated at the grid's radii, every half degree, linear in between.
class Kernel {
 public:
  Kernel(const Geometry& geometry, const std::vector<double>& radii_m, double reference_radius_m);

  static constexpr std::size_t per_turn = 720;
  [[nodiscard]] const double* row(std::size_t radius) const { return &table_[radius * per_turn]; }
  [[nodiscard]] double turn_average(std::size_t radius) const;

 private:
  std::vector<double> table_;
};

class FilmGrid {
 public:
  FilmGrid(double inner_radius_m, double outer_radius_m, std::size_t radii, std::size_t angles);

  // Adds film with the turn average `dose_m` at the reference radius while the optic stands at
  // `theta_rad`.
  void lay(const Kernel& kernel, double theta_rad, double dose_m);

  struct Place {
    double thickness_m = 0, radius_m = 0, angle_rad = 0;
  };
  [[nodiscard]] double mean_m() const;  // area-weighted over the clear area
  [[nodiscard]] Place thinnest() const;
  [[nodiscard]] Place thickest() const;

  // This film minus another on the same grid.
  [[nodiscard]] FilmGrid minus(const FilmGrid& other) const;

  [[nodiscard]] const std::vector<double>& radii_m() const { return radii_m_; }
  [[nodiscard]] std::size_t angles() const { return angles_; }
  [[nodiscard]] double at(std::size_t radius, std::size_t angle) const {
    return thickness_m_[radius * angles_ + angle];
  }

 private:
  [[nodiscard]] Place place(std::size_t index) const;
  std::vector<double> radii_m_;
  std::size_t angles_;
  std::vector<double> thickness_m_;
};

}  // namespace vacuary::rehearse
