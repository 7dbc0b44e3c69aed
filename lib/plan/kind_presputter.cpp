// Sputtering behind the closed shutter until the target is conditioned: no film lands on the optic.
#include "plan/kind.hpp"

namespace vacuary::plan {

const StepKindEntry& presputter_kind() {
  static const StepKindEntry entry{StepKind::presputter,
                                   "presputter",
                                   "sputtering behind the shutter until the target is clean",
                                   {"gas", "pressure", "cathode", "power"},
                                   {"pumps", "throttle", "ramp", "settled", "rotation"},
                                   {"time", "energy"},
                                   nullptr};
  return entry;
}

}  // namespace vacuary::plan
