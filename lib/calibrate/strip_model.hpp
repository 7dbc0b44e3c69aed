// Inside of `calibrate`: equation (1) of calibrate.hpp, quick enough to be fitted.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "model/model.hpp"
#include "plan/strip.hpp"

namespace vacuary::calibrate {

// The geometry that shapes a strip, as built or varied.
struct Layout {
  physics::CoatedSurface surface;
  physics::Racetrack track;
  physics::TrimShield shield;
  Length reference;
  bool reference_shielded = true;

  Layout(const plan::Cathode& cathode, const plan::Optic& optic);
};

struct StripPlace {
  Length radius;
  bool shielded = true;
};

// Turn means at some places, 1/m2.
struct TurnMeans {
  std::vector<double> straight, scattered;
};
[[nodiscard]] TurnMeans turn_means(const Layout& layout, const std::vector<StripPlace>& places,
                                   double exponent, double opening_m);

// Where a fit may look: a range of exponents and of openings (either way), and how many nodes cover it.
struct Range {
  double lowest_exponent = 0.4, highest_exponent = 2.6;
  double opening_from_m = -0.02, opening_to_m = 0.02;
  std::size_t exponents = 8, openings = 5;
};

// Turn means as polynomials through Chebyshev nodes of a range: good to some 1e-5 within it.
class TurnTable {
 public:
  TurnTable(const Layout& layout, const std::vector<StripPlace>& places, const Range& range);
  [[nodiscard]] double straight(std::size_t place, double exponent, double opening_m) const;
  [[nodiscard]] double scattered(std::size_t place, double opening_m) const;

 private:
  std::vector<double> exponent_, opening_m_;
  std::vector<TurnMeans> nodes_;  // by exponent, then opening
};

// A parameter that is not fitted but held by what is known of it.
struct Held {
  std::string name;
  double uncertainty = 1;  // standard
};

// Parameters: kappa m/J, exponent, diffuse share, opening m, then the deviations of the held ones.
class StripModel {
 public:
  StripModel(const plan::Plan& plan, const plan::Strip& strip, const Range& range);

  [[nodiscard]] const std::vector<Held>& held() const { return held_; }
  [[nodiscard]] std::size_t points() const { return rows_.size(); }
  [[nodiscard]] std::vector<double> film_m(const std::vector<double>& parameters) const;

 private:
  struct Shot {
    double energy_j = 0;
    double factor = 1;  // voltage and erosion, against the calibration's state
    double pressure_pa = 0;
    std::size_t held = 0;  // which held parameter its energy is
  };
  struct Row {
    std::size_t shot = 0, place = 0;
  };
  void add_shots(const plan::Plan& plan, const plan::Strip& strip, std::size_t stated_for);
  void find_sensitivities();
  // Equation (1) over kappa, energy and factor, by turn means given.
  template <class Straight, class Scattered>
  [[nodiscard]] double shape(const Row& row, double share, double throw_m, double p0d0, Straight straight,
                             Scattered scattered) const;

  const plan::Cathode* cathode_;
  Layout layout_;
  double stated_pa_ = 0;
  std::vector<Shot> shots_;
  std::vector<Row> rows_;
  std::vector<StripPlace> places_;  // the last is the reference
  std::vector<Held> held_;
  std::size_t first_shaping_ = 0;                 // of the held ones, the first that shapes the strip
  std::vector<std::vector<double>> sensitivity_;  // a row a point: d ln film / d each shaping one
  TurnTable table_;
};

// The exposure a calibration from this strip is stated for: the first through the shield, else the first.
[[nodiscard]] std::size_t stated_exposure(const plan::Strip& strip);

}  // namespace vacuary::calibrate
