// The film map of a plan: where the film of its cathodes lands on its optic, and how well that is known.
//
//   T(r, theta) = sum over cathodes and rows of kappa dE [ w G + (1 - w) D ](r, theta - Theta)      (1)
//   w = eta / (eta + (1 - eta) s),   eta = transport at the row's pressure                          (2)
//
// with G the kernel of atoms that fly straight and D that of atoms the gas has scattered, both 1 on
// a turn's average at the calibration's radius (physics/film_map.hpp); s is the calibration's
// diffuse share, and eta follows Keller and Simmons (physics/transport.hpp).
// Film per energy is measured; only the shape comes from the geometry as built. What is known of the
// geometry with an uncertainty (throw, ends of the racetrack, emission exponent, the shield's opening
// and height, diffuse share) moves the shape; the mean over the clear area, the extremes and the
// uniformity follow by Monte Carlo (JCGM 101), straight in the inputs but not in the result.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "physics/film_map.hpp"
#include "plan/plan.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::model {

[[nodiscard]] physics::CoatedSurface coated_surface(const plan::Optic& optic);
[[nodiscard]] physics::Racetrack racetrack(const plan::Cathode& cathode);
[[nodiscard]] physics::TrimShield trim_shield(const plan::Cathode& cathode);

struct MapGrid {
  std::size_t radii = 256, angles = 1440;
  unsigned threads = 1;
};
// The kernels of one cathode over one optic, scaled at the calibration's radius.
struct CathodeKernels {
  CathodeKernels(const plan::Cathode& cathode, const plan::Optic& optic, const MapGrid& grid);
  physics::FilmKernel straight;
  std::optional<physics::FilmKernel> scattered;  // none when the calibration's diffuse share is 0
};
// Share of what crosses the shield that lands at the calibration's radius: eta + (1 - eta) s.
[[nodiscard]] Ratio arriving_share(const plan::Cathode& cathode, Pressure pressure);
// (2): share of the film at the calibration's radius that flew straight.
[[nodiscard]] Ratio straight_share(const plan::Cathode& cathode, Pressure pressure);

struct ArrivingShares {
  Ratio all, straight;  // arriving_share and straight_share of one pressure
};
[[nodiscard]] ArrivingShares arriving_shares(const plan::Cathode& cathode, Pressure pressure);

// Share of what leaves the target that flies through the shield to the clear area, before the gas
// takes any: n + 1 over 2 pi per solid angle about each element of the racetrack.
[[nodiscard]] Ratio collected_share(const plan::Cathode& cathode, const plan::Optic& optic);

// Mean over the clear area of a whole turn's film, over the film at the calibration's radius; its
// uncertainty is that of the shape alone.
[[nodiscard]] Estimate<Ratio> clear_area_mean(const plan::Cathode& cathode, const plan::Optic& optic);

// Turn-averaged film at the calibration's radius that one cathode laid, by angle of the optic under
// its line, counted from the fiducial mark in the sense of the marks.
class FilmDose {
 public:
  FilmDose(const plan::Recipe& recipe, const plan::Cathode& cathode, std::size_t bins = 1440);
  // `from`, `to`: as optic.angle reads, unwrapped. Spread evenly over the way between them.
  void add(Angle from, Angle to, Length film, Pressure pressure);
  // The same by straight_share of that pressure.
  void add(Angle from, Angle to, Length film, Ratio straight);
  [[nodiscard]] Length total() const { return straight_.total() + scattered_.total(); }
  [[nodiscard]] const plan::Cathode& cathode() const { return *cathode_; }
  [[nodiscard]] const physics::AngleDose& straight() const { return straight_; }
  [[nodiscard]] const physics::AngleDose& scattered() const { return scattered_; }

 private:
  const plan::Cathode* cathode_;
  double offset_rad_ = 0;
  Ratio share_ = Ratio::of(1);  // (2), and the pressure it was worked out for
  double share_pa_ = -1;
  physics::AngleDose straight_, scattered_;
};

// A value with its 95 % interval (JCGM 101, symmetric in probability) when it is not a straight
// function of its inputs.
template <class Q>
struct Spread {
  Q value{}, low{}, high{};
};

struct FilmExtreme {
  Spread<Length> thickness;
  Length radius{};
  Angle angle{};  // from the fiducial mark
};

// A part of the circle with more or less film than the rest at the same radius.
struct FilmSector {
  Angle from{}, to{};  // where the difference is beyond half its worst; `to` may pass a whole turn
  Angle worst_at{};
  Length depth{};   // at its worst; negative: thin
  Length radius{};  // where that is
};

// What is not known exactly of the geometry, and what one standard uncertainty more of it does.
struct ShapeInput {
  std::string input;                 // "throw as built (2 mm)"
  Ratio mean_change;                 // of the mean over the clear area, relative
  Ratio inner_change, outer_change;  // of the film at the clear area's edges, relative to the mean
};

struct FilmMap {
  Length mean{};  // over the clear area
  FilmExtreme thinnest, thickest;
  Ratio rms;                     // standard deviation over the mean
  Spread<Ratio> peak_to_valley;  // (max - min) / (max + min)
  Ratio area_in_tolerance;       // share of area within thickness +/- tolerance
  Mass mass{};
  std::vector<FilmSector> sectors;  // by depth, none shallower than 0.5 nm or 0.5 % of the mean
  std::vector<ShapeInput> shape;
  // For pictures: thickness by ring and angle step, and the middles of the rings.
  std::size_t radii = 0, angles = 0;
  std::vector<double> thickness_m, radius_m;
};

// The map of what was laid. `scale_uncertainty`: relative, standard, of all film alike (film per
// energy, energy). Several doses add. `kernels`: of the doses' cathodes, one each, on one grid.
[[nodiscard]] FilmMap film_map(const plan::Optic& optic, const std::vector<FilmDose>& doses,
                               Ratio scale_uncertainty, const std::vector<CathodeKernels>& kernels);

// What a dose more or less does, at its worst: the sector it leaves against the film elsewhere. The
// dose may have negative parts. None when it does nothing.
[[nodiscard]] std::optional<FilmSector> sector_of(const CathodeKernels& kernels, const FilmDose& difference);

}  // namespace vacuary::model
