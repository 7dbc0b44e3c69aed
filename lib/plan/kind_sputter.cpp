// Sputtering with the shutter open: the step that lays film.
#include "plan/kind.hpp"

namespace vacuary::plan {

namespace {

void needs_optic(const Step& step, const Plan& plan, Reader& reader) {
  if (!plan.recipe.optic_path && !reader.broken) {
    reader.complain("missing-key", step.kind_at, "a sputter step lays film, and the recipe names no optic",
                    "add a line such as optic = \"optic.toml\" at the top of the recipe");
  }
}

}  // namespace

const StepKindEntry& sputter_kind() {
  static const StepKindEntry entry{StepKind::sputter,
                                   "sputter",
                                   "sputtering with the shutter open: lays film",
                                   {"gas", "pressure", "cathode", "power"},
                                   {"pumps", "throttle", "ramp", "rotation"},
                                   {"time", "energy", "turns", "angle", "thickness"},
                                   needs_optic};
  return entry;
}

}  // namespace vacuary::plan
