// What `calibrate` and `shield` have to say. The rules live in those rooms; their explanations live
// here so that `explain` knows every rule there is.
#include "check/rule.hpp"

namespace vacuary::check {

std::vector<RuleEntry> bench_rules() {
  return {
      {{"strip-does-not-fit", Severity::warning,
        "no film the cathode could lay passes through a strip's points",
        "The points scatter about the best fit more than their uncertainties, the tolerances of the geometry "
        "and the energies allow: the sum of their squares would be as large by chance in less than one strip "
        "of a hundred. Something in the files is not as it was: another shield, a shield set down in another "
        "place, a part turn, uncertainties that are too small, a gauge that slipped. Do not use the "
        "calibration until it is understood."}},
      {{"strip-point-off", Severity::warning, "one point of a strip is far from the fit",
        "The point lies more than 3.5 standard uncertainties from what the rest of the strip and the "
        "geometry allow. A scratch, a finger, a reading in the wrong line. Measure it again; leave it out "
        "only "
        "when the reason is found on the glass, because the fit cannot tell a bad point from a bad model."}},
      {{"strip-tells-too-little", Severity::note, "the strip tells a figure worse than the chamber file does",
        "Film per energy, emission exponent, diffuse share and the shield's opening are fitted together. "
        "What "
        "a strip tells less well than the chamber file already states is taken from the chamber file, with "
        "its uncertainty, so that the others do not suffer. A strip without the shield and one at twice the "
        "pressure tell the diffuse share and the opening apart; 'calibrate' lists what each would bring. A "
        "strip with all points at one radius is a warning: it tells film per energy only."}},
      {{"shield-cannot-even-out", Severity::warning,
        "no opening of the shield makes the film as even as wanted",
        "A shield only takes film away. Where the cathode lays too little with the opening at its widest, "
        "usually at the rim when the racetrack ends too close to it for its throw, everything else would "
        "have "
        "to be cut down to that. The best opening found is given with what limits it; a wider opening, a "
        "longer racetrack, a larger throw or a finer table mend it."}},
      {{"shield-not-possible", Severity::error, "there is nothing to propose a shield for",
        "A shield is made for one cathode over one optic, between the target and the glass. The recipe names "
        "no optic or no cathode, or the limits given contradict each other."}},
  };
}

}  // namespace vacuary::check
