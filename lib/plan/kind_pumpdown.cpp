// Pumping the chamber down, by its pumps in the order in which they take over.
#include "plan/kind.hpp"

namespace vacuary::plan {

const StepKindEntry& pumpdown_kind() {
  static const StepKindEntry entry{StepKind::pumpdown,
                                   "pumpdown",
                                   "pumping until a pressure is reached",
                                   {"pumps"},
                                   {"throttle", "rotation"},
                                   {"pressure", "time"},
                                   nullptr};
  return entry;
}

}  // namespace vacuary::plan
