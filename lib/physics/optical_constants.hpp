// Optical constants of the films and overcoats of mirrors, by published source.
//
//   (O4) Lorentz-Drude  e(w) = 1 - f0 wp^2 / (w (w - i G0)) + sum f_j wp^2 / (w_j^2 - w^2 + i w G_j)
//   (O5) Sellmeier      n^2 = 1 + sum B_j l^2 / (l^2 - C_j^2)
//
// Range: (O4) 0.25 to 6 um for Al, Ag, Cr, Ni; for silver it smooths over what single films show and reads
// up to three points low in the visible. (O5) SiO2 0.21 to 6.7 um (fused silica), Si3N4 0.31 to 5.5 um;
// sputtered dielectric films are less dense and mostly a few percent lower in n. A film is no bulk: sources
// differ, and the spread between them is what a prediction is worth. Source: (O4) A. D. Rakic et al., Appl.
// Opt. 37, 5271 (1998); measured films of P. B. Johnson and R. W. Christy, Phys. Rev. B 6, 4370 (1972) and 9,
// 5056 (1974); (O5) I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965), and K. Luke et al., Opt. Lett. 40, 4823
// (2015).
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "physics/optics.hpp"

namespace vacuary::physics {

// (O4). None for a metal that is not in the table (Al, Ag, Cr, Ni).
[[nodiscard]] std::optional<Index> lorentz_drude(std::string_view metal, Length wavelength);

// (O5). None for a material that is not in the table (SiO2, Si3N4).
[[nodiscard]] std::optional<Index> sellmeier(std::string_view material, Length wavelength);

// All there is on a material at a wavelength, each with its source: the model first, then measured tables
// where they reach. Empty for an unknown material.
[[nodiscard]] std::vector<NamedIndex> published_constants(std::string_view material, Length wavelength);

// The oxide that grows on aluminium in air. Its index is assumed: amorphous alumina films lie between 1.6
// and 1.7.
inline constexpr Index native_oxide{1.65, 0};

// The thinnest film from which on the reflectance stays within `within` of that of an endless film. None when
// 10 um do not do it (a film that does not absorb).
[[nodiscard]] std::optional<Length> opaque_thickness(Index film, Index substrate, Length wavelength,
                                                     Ratio within = Ratio::of(0.001));

}  // namespace vacuary::physics
