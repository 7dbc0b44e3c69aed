// Letting the chamber up to the pressure of the room.
#include "plan/kind.hpp"

namespace vacuary::plan {

const StepKindEntry& vent_kind() {
  static const StepKindEntry entry{StepKind::vent,
                                   "vent",
                                   "letting gas in up to the pressure of the room",
                                   {},
                                   {"gas", "dew_point", "rotation"},
                                   {"pressure", "time"},
                                   nullptr};
  return entry;
}

}  // namespace vacuary::plan
