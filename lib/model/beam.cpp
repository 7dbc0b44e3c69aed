#include <algorithm>
#include <numbers>

#include "model/film_shape.hpp"
#include "model/quality.hpp"

namespace vacuary::model {

Angle beam_width(const plan::Cathode& cathode, const plan::Optic& optic) {
  Geometry geometry(cathode, optic);
  const Length thin = Length::from_value(1e-6);
  geometry.surface.inner_radius = geometry.reference - thin;
  geometry.surface.outer_radius = geometry.reference + thin;
  const MapGrid ring{1, 1440, 1};
  const physics::FilmKernel straight = geometry.straight(ring);
  const double share = straight_share(cathode, cathode.calibration.pressure.value).value();
  std::vector<double> beam;
  for (std::size_t j = 0; j < ring.angles; ++j) beam.push_back(share * straight.at(0, j));
  if (share < 1) {
    const physics::FilmKernel scattered = geometry.scattered(ring);
    for (std::size_t j = 0; j < ring.angles; ++j) beam[j] += (1 - share) * scattered.at(0, j);
  }
  const double peak = *std::max_element(beam.begin(), beam.end());  // both kernels are 1 on a turn's average
  return Angle::from_value(peak > 0 ? 2 * std::numbers::pi / peak : 0);
}

}  // namespace vacuary::model
