// Where the film lands: thickness over a rotating optic from a long cathode above it.
//
// A point of the glass at radius r that stands the angle psi behind the cathode's line sees each
// element of the source with
//     w cos^n(emission) cos(incidence) / d^2                                              (1)
// the cosine-power law of a small plane source (Holland and Steckelmacher, Vacuum 2, 346, 1952),
// zero where the straight ray meets the trim shield outside its opening. G(r, psi) is the sum over
// the source, scaled so that its mean over a turn at the reference radius is 1. A film dose m(Theta),
// laid while the optic stood at the angle Theta, gives
//     T(r, theta) = integral of G(r, theta - Theta) dm(Theta)                             (2)
// where m is the turn-averaged film at the reference radius: film per energy times energy.
//
// The dose is gathered once over the log into angle bins with their moments (AngleDose), and
// (2) is a circular convolution a radius, so its cost does not grow with the log.
//
// Atoms that the gas has scattered have forgotten their target: they fill the room above the shield
// and leave through its opening as gas does through a hole, by the cosine law from every part of it
// (Knudsen effusion), and land beside the beam as well. Without a shield they come from a strip half
// the throw above the glass, as wide as track and throw together. Both are pictures that are good for
// the shape of a small share, no more; how large the share is a witness strip must tell.
//
// Range: pressure times throw below about p0d0. The shield is thin, its plate follows the glass at its
// height, and beyond its table it stays as open as at the table's end. Elements of the racetrack emit
// by length, the turns included.
#pragma once

#include <cstddef>
#include <vector>

#include "quantity/types.hpp"

namespace vacuary::physics {

// The coated surface: a conic of revolution with its vertex at the origin and z towards the cathode;
// sag(r) = c r^2 / (1 + sqrt(1 - (1 + k) c^2 r^2)), c = 1 / radius of curvature (0: flat).
struct CoatedSurface {
  Length inner_radius, outer_radius;  // of the clear area, 0 <= inner < outer
  double curvature_per_m = 0;         // positive: concave towards the cathode
  Ratio conic_constant;
  [[nodiscard]] Length sag(Length r) const;
  [[nodiscard]] double slope(Length r) const;  // dz/dr
  bool operator==(const CoatedSurface&) const = default;
};

// A small piece of the source: where it is, which way it faces (unit vector), how much it emits.
struct SourceElement {
  double x_m = 0, y_m = 0, z_m = 0;
  double nx = 0, ny = 0, nz = -1;
  double weight = 1;
};

// A racetrack along the radius at azimuth 0: two straights `half_width` either side of the centre
// line and a half turn at each end, reaching from `inner` to `outer` (turns included). With
// `follows_surface` each element hangs `throw_distance` above the glass below it and faces it,
// else the track is level at `throw_distance` above the vertex plane.
struct Racetrack {
  Length inner, outer, half_width, throw_distance;
  bool follows_surface = true;
  bool operator==(const Racetrack&) const = default;
};
[[nodiscard]] std::vector<SourceElement> elements(const Racetrack& track, const CoatedSurface& surface);

// The trim shield's full open width across the cathode's line, by radius ascending; empty: none.
struct ShieldOpening {
  Length radius, width;
  bool operator==(const ShieldOpening&) const = default;
};
struct TrimShield {
  Length height;  // above the glass
  std::vector<ShieldOpening> opening;
  bool operator==(const TrimShield&) const = default;
};

// Where scattered atoms set out: over the opening of the shield above the track, facing the glass.
// They are no line, so they are for a kernel without a shield only.
[[nodiscard]] std::vector<SourceElement> scattered_elements(const Racetrack& track, const TrimShield& shield,
                                                            const CoatedSurface& surface);

// Sum of (1) over the source, 1/m2: the definition, for one place. Elements are points here: with a
// shield the sum jumps as one of them is cut off.
[[nodiscard]] double direct_sum_per_m2(const std::vector<SourceElement>& source, Ratio emission_exponent,
                                       const CoatedSurface& surface, const TrimShield& shield, Length r,
                                       Angle psi);

// Mean over a turn of the sum at each of some radii, 1/m2, before any scaling: how much whole turns lay
// there. An element that the shield hides for a part of a step of the turn counts for the rest of it, so that
// the mean is a smooth function of the opening. `angles` is even.
[[nodiscard]] std::vector<double> turn_means_per_m2(const std::vector<SourceElement>& source,
                                                    Ratio emission_exponent, const CoatedSurface& surface,
                                                    const TrimShield& shield,
                                                    const std::vector<Length>& radii,
                                                    std::size_t angles = 1440);

// G on a grid: `radii` rings of equal width (their middles), `angles` steps of a turn. With a shield an entry
// is the mean over its step as far as the opening's edge goes: an element that is hidden for a part of its
// length or of the step counts for the rest. Elements must follow one another along the source. Film on a
// turning optic is then good to 1e-4 (a film stepped through time); what falls while the optic stands has
// the shield's sharp edge, known to a step of the turn only.
class FilmKernel {
 public:
  FilmKernel(const std::vector<SourceElement>& source, Ratio emission_exponent, const CoatedSurface& surface,
             const TrimShield& shield, Length reference_radius, std::size_t radii = 256,
             std::size_t angles = 1440, unsigned threads = 1);

  [[nodiscard]] std::size_t radii() const { return radii_; }
  [[nodiscard]] std::size_t angles() const { return angles_; }
  [[nodiscard]] Length radius(std::size_t ring) const;        // middle of the ring
  [[nodiscard]] double ring_area_m2(std::size_t ring) const;  // of the true curved surface
  [[nodiscard]] double at(std::size_t ring, std::size_t step) const { return table_[ring * angles_ + step]; }
  // Mean of G over a turn, relative to the reference radius: how even whole turns are.
  [[nodiscard]] double turn_average(std::size_t ring) const;
  // Share of a turn that, at the peak's rate, would lay the turn's film: the beam's width.
  [[nodiscard]] Angle equivalent_width(std::size_t ring) const;
  // Mean over a turn at the reference radius before scaling, 1/m2: what the shield costs.
  [[nodiscard]] double reference_rate_per_m2() const { return reference_rate_; }

 private:
  std::size_t radii_, angles_;
  CoatedSurface surface_;
  double reference_rate_ = 0;
  std::vector<double> table_;
};

// The film dose by angle of the optic under the cathode: its moments in each of `bins` bins. They
// keep a bin's dose where it fell: the nearest bin alone is good to 1e-3, with the first moment to
// some 1e-6, with the second to better.
class AngleDose {
 public:
  explicit AngleDose(std::size_t bins = 1440);
  // `dose` of film, spread evenly over the way from `from` to `to` (any number of turns, either
  // sense; equal: it fell on one angle). Angles need not be within a turn.
  void add(Angle from, Angle to, Length dose);
  [[nodiscard]] std::size_t bins() const { return zeroth_.size(); }
  [[nodiscard]] Length total() const;
  [[nodiscard]] const std::vector<double>& zeroth_m() const { return zeroth_; }
  [[nodiscard]] const std::vector<double>& first_m_rad() const { return first_; }
  [[nodiscard]] const std::vector<double>& second_m_rad2() const { return second_; }

 private:
  void put(std::size_t bin, double dose_m, double offset_rad, double width_rad);
  std::vector<double> zeroth_, first_, second_;
};

// Thickness on the kernel's grid; angle step j is the angle 2 pi j / angles on the optic.
struct FilmMap {
  std::size_t radii = 0, angles = 0;
  std::vector<double> thickness_m;
  [[nodiscard]] double at(std::size_t ring, std::size_t step) const {
    return thickness_m[ring * angles + step];
  }
};

// (2) by convolution. Precondition: dose.bins() == kernel.angles().
[[nodiscard]] FilmMap lay_film(const FilmKernel& kernel, const AngleDose& dose);

struct FilmPlace {
  Length thickness, radius;
  Angle angle;
};

// What a map comes to over the clear area, weighted with the area of the curved surface.
struct FilmFigures {
  Length mean;
  FilmPlace thinnest, thickest;
  Ratio rms;                // standard deviation over the mean
  Ratio peak_to_valley;     // (max - min) / (max + min)
  Ratio area_in_tolerance;  // share of area within [low, high]
  Mass mass;
};
[[nodiscard]] FilmFigures figures(const FilmKernel& kernel, const FilmMap& map, Length low, Length high,
                                  MassDensity density);

}  // namespace vacuary::physics
