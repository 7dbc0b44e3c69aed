// Valves closed and no gas: the rise of the pressure bounds the leak.
#include "plan/kind.hpp"

namespace vacuary::plan {

const StepKindEntry& rate_of_rise_kind() {
  static const StepKindEntry entry{
      StepKind::rate_of_rise, "rate_of_rise", "valves closed: how fast the pressure rises", {}, {"rotation"},
      {"time", "pressure"},   nullptr};
  return entry;
}

}  // namespace vacuary::plan
