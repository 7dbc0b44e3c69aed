// Waiting: for heat to leave, for a pressure to settle.
#include "plan/kind.hpp"

namespace vacuary::plan {

const StepKindEntry& hold_kind() {
  static const StepKindEntry entry{StepKind::hold,
                                   "hold",
                                   "waiting, with or without gas",
                                   {},
                                   {"gas", "pressure", "pumps", "throttle", "rotation"},
                                   {"time", "pressure"},
                                   nullptr};
  return entry;
}

}  // namespace vacuary::plan
