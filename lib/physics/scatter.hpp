// Light scattered by a rough mirror.
//
//   (O9) TIS = 1 - exp(-(4 pi s / l)^2), about (4 pi s / l)^2
//
// s rms roughness over the band of spatial periods that scatters (about one to some hundred
// wavelengths), l wavelength. Range: s well below l, normal incidence, perfect conductor times its
// reflectance. Source: H. E. Bennett and J. O. Porteus, J. Opt. Soc. Am. 51, 123 (1961).
#pragma once

#include <cmath>
#include <numbers>

#include "quantity/types.hpp"

namespace vacuary::physics {

// The small-roughness form.
[[nodiscard]] inline Ratio total_scatter(Length roughness, Length wavelength) {
  const double x = 4 * std::numbers::pi * roughness.value() / wavelength.value();
  return Ratio::of(x * x);
}
// The full form: what the specular beam has lost.
[[nodiscard]] inline Ratio specular_loss(Length roughness, Length wavelength) {
  return Ratio::of(-std::expm1(-total_scatter(roughness, wavelength).value()));
}

}  // namespace vacuary::physics
