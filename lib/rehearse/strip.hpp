// A witness strip as a true plant would lay it, to practise calibration on.
//
// Stepped through time with the kernel of film.hpp: the optic turns under the beam, every step adds its
// film. Atoms the gas has scattered leave the shield's opening by the cosine law, point by point on a
// fine grid of it (Knudsen effusion); without a shield they come from a strip half the throw above the
// glass, as wide as track and throw together. Shares no code with the model that calibrations are fitted by.
#pragma once

#include <cstdint>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::rehearse {

struct StripTruth {
  double film_per_energy_m_per_j = 0;  // at the calibration's radius, in the state below
  double exponent = 1;
  double diffuse_share = 0;
  double opening_m = 0;  // the shield is this much wider than its table
  double throw_m = 0;
  double p0d0_pa_m = 0.1;
  double stated_pressure_pa = 0.3;  // film per energy is for this pressure,
  bool stated_shielded = true;      // with the shield or without
};

struct StripShot {
  bool shielded = true;
  double energy_j = 0, pressure_pa = 0.3, turns = 6;
  double start_angle_rad = 0;   // of the optic when the shutter opens
  std::vector<double> radii_m;  // of the strip, which lies at the optic's angle 0
};

// True film at each radius, metres.
[[nodiscard]] std::vector<double> strip_film_m(const plan::Cathode& cathode, const plan::Optic& optic,
                                               const StripTruth& truth, const StripShot& shot);

}  // namespace vacuary::rehearse
