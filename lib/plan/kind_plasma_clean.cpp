// A glow discharge between an electrode and the vessel cleans the glass.
#include "plan/kind.hpp"

namespace vacuary::plan {

namespace {

void needs_electrode(const Step& step, const Plan& plan, Reader& reader) {
  if (plan.chamber.glow) return;
  reader.complain("unknown-reference", step.kind_at,
                  "a plasma clean needs a glow electrode, and the chamber has none",
                  "add [glow] to the chamber file, or leave this step out");
}

}  // namespace

const StepKindEntry& plasma_clean_kind() {
  static const StepKindEntry entry{StepKind::plasma_clean,
                                   "plasma_clean",
                                   "glow discharge in a low pressure of gas that cleans the surface",
                                   {"gas", "pressure", "voltage", "current"},
                                   {"pumps", "throttle", "rotation"},
                                   {"time"},
                                   needs_electrode};
  return entry;
}

}  // namespace vacuary::plan
