// Reflectance and transmittance of a stack of thin films at normal incidence.
//
//   (O1) layer matrix  [[cos d, i sin d / N], [i N sin d, cos d]],  d = 2 pi N t / l,  N = n - i k
//   (O2) [B, C] = product of the layers (from the light) times [1, N_s]
//   (O3) R = |(N_0 B - C) / (N_0 B + C)|^2,  T = 4 N_0 Re(N_s) / |N_0 B + C|^2
//
// Range: flat, uniform, coherent films; a substrate so thick that nothing comes back from its far side.
// Film constants differ between published tables by more than any instrument's error: see
// optical_constants.hpp. Interference needs films thinner than the light's coherence.
// Source: H. A. Macleod, Thin-Film Optical Filters, 3rd ed. (2001), ch. 2. (The sign of i follows
// N = n - i k throughout.)
#pragma once

#include <complex>
#include <string_view>
#include <vector>

#include "quantity/types.hpp"

namespace vacuary::physics {

// n and k, k positive for absorption.
struct Index {
  double n = 1, k = 0;
};

struct Layer {
  Index index;
  Length thickness{};
};

struct StackResult {
  Ratio reflectance, transmittance;  // the rest is absorbed
};
// Layers in the order in which the light meets them, on a substrate; light comes from vacuum or air.
[[nodiscard]] StackResult stack(const std::vector<Layer>& layers, Index substrate, Length wavelength);

// Reflectance of a bulk surface against vacuum: ((n-1)^2 + k^2) / ((n+1)^2 + k^2).
[[nodiscard]] Ratio bulk_reflectance(Index index);

// (O4) of optical_constants.hpp for aluminium.
[[nodiscard]] Index lorentz_drude_aluminium(Length wavelength);

// Published constants of aluminium, by table, interpolated linearly between the wavelengths given
// (400, 550, 633, 670, 850, 1000 nm); held at the ends outside them. Between 670 and 1000 nm the dip at
// 830 nm is not resolved by them: prefer the model there.
struct NamedIndex {
  std::string_view source;
  Index index;
};
[[nodiscard]] std::vector<NamedIndex> aluminium_tables(Length wavelength);

}  // namespace vacuary::physics
