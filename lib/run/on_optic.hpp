// From the doses of a run to the film on the optic, and from a deviation to the sector it left.
#pragma once

#include "run/film.hpp"

namespace vacuary::run {

// The map, its angles' uncertainty, and the mass balance. `scale`: relative standard uncertainty of
// all film alike.
[[nodiscard]] OnOptic on_optic(const plan::Plan& plan, const FilmMeter& meter, Ratio scale,
                               const std::vector<FilmPart>& parts);

// "272 to 308 degrees counterclockwise from the notch at the north support pad"
[[nodiscard]] std::string sector_words(const plan::Optic& optic, const model::FilmSector& sector);

// Gives every deviation that touched the film its sector: the film laid meanwhile, less the usual film
// of the way the optic turned meanwhile, laid through the kernel.
void place_on_optic(const plan::Plan& plan, const FilmMeter& meter, Account& account);

}  // namespace vacuary::run
