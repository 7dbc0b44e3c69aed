// Front door of `trim`: the opening of the shield that makes the film of a cathode even on an optic.
//
// Along the radius the open width w(r) is corrected turn by turn of an iteration,
//   w_k+1(r) = w_k(r) (m / t(r))^a,    then all widths alike until the widest is as wide as allowed      (1)
// with t(r) the turn's mean film at r by the kernel (physics/film_map.hpp) and m its mean: film at a
// radius grows almost in proportion to the opening over it. The widest opening sets the rate.
// Widths are kept between the narrowest and the widest, given to the workshop at steps of the radius
// and rounded, and what is claimed of them is computed from the rounded table on the full map's grid,
// which the iteration has not seen.
//
// Range: as the kernel (thin plate that follows the glass, straight flight, scattered atoms as the
// chamber file's diffuse share has them). Film per energy with a new shield follows by the ratio of
// kernels from the calibrated one; until a strip is measured it is a prediction.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/model.hpp"
#include "plan/plan.hpp"

namespace vacuary::trim {

struct Wanted {
  std::optional<Ratio> uniformity;  // (max - min)/(max + min); none: as the optic file has it
  std::optional<Length> widest;     // none: as wide as the present shield; without one, twice the target
  std::optional<Length> narrowest;  // none: 10 mm
  std::optional<Length> height;     // above the glass; none: as the present shield
  Length step = Length::from_value(0.05);  // of the table; halved once when that is what it takes
  Length rounding = Length::from_value(0.0005);
  std::string cathode;  // by name; empty: the recipe's first sputter step's
};

struct Edge {
  Length radius;   // from the optic's axis
  Length along;    // from the axis along the plate, which follows the glass
  Length opening;  // full width
};

// What some shield, or none, gives.
struct Outcome {
  Ratio uniformity;  // over the clear area
  Ratio rms;
  Length thinnest_at, thickest_at;
  Ratio rate;  // mean film over the clear area a turn, over that of the present shield
};

// What a deviation of the shield as made and hung does.
struct Tolerance {
  std::string what;  // "every edge 0.5 mm wider"
  Ratio uniformity;
};

struct Proposal {
  std::string recipe, revision, cathode, optic, present;  // present: the shield's name, empty for none
  Length height;
  Ratio wanted;
  bool reached = false;
  std::vector<std::string> why_not;  // when it is not reached, or by little
  std::vector<Edge> table;
  Outcome proposed, now, bare;  // now: with the present shield (or none)
  std::vector<Length> profile_radius;
  std::vector<Ratio> profile;  // turn's mean film over its mean, proposed, by radius
  std::vector<Tolerance> tolerances;
  ThicknessPerEnergy film_per_energy{};  // predicted, at the calibration's radius
  // The recipe's film steps: energy and turns now, and for the same mean film through the proposal.
  Energy energy_now{}, energy_needed{};
  Count turns_now, turns_needed;
  Power power_now{}, power_needed{}, power_max{};  // needed: for the film in as many turns as now
  // Where the opening has to be open to along the radius: no ray to the clear area crosses it beyond.
  Length inner_end{}, outer_end{};
  std::vector<std::string> assumed;
};

// Findings as the result's diagnostics: shield-cannot-even-out (warning) when the uniformity is out of
// reach; errors when the plan has no optic or cathode to trim, or what is wanted contradicts itself.
[[nodiscard]] Result<Proposal> propose_shield(const plan::Plan& plan, const Wanted& wanted);

}  // namespace vacuary::trim
