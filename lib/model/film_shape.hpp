// How the film of whole turns varies with the radius, and how that moves with the geometry. Inside
// `model` only.
#pragma once

#include <vector>

#include "model/film_map.hpp"

namespace vacuary::model {

struct Geometry {
  Geometry(const plan::Cathode& cathode, const plan::Optic& optic);
  physics::CoatedSurface surface;
  physics::Racetrack track;
  physics::TrimShield shield;
  Ratio exponent;
  Length reference;
  bool operator==(const Geometry&) const = default;
  [[nodiscard]] physics::FilmKernel straight(const MapGrid& grid) const;
  [[nodiscard]] physics::FilmKernel scattered(const MapGrid& grid) const;
};

// A turn's average film by ring, relative to the calibration's radius, with the rings' areas.
struct Profile {
  std::vector<double> area_m2, film;
  [[nodiscard]] double mean() const;
};
[[nodiscard]] Profile profile_of(const physics::FilmKernel& kernel);

// Relative change of the film by ring when the input is one standard uncertainty more.
struct ShapeChange {
  std::string input;
  std::vector<double> relative;
};
struct FilmShape {
  Profile turn;
  std::vector<ShapeChange> changes;
};
[[nodiscard]] FilmShape film_shape(const plan::Cathode& cathode, const plan::Optic& optic);

}  // namespace vacuary::model
