#include "plan/kind.hpp"

namespace vacuary::plan {

const std::vector<const StepKindEntry*>& step_kinds() {
  static const std::vector<const StepKindEntry*> all{
      &pumpdown_kind(), &rate_of_rise_kind(), &plasma_clean_kind(), &presputter_kind(),
      &sputter_kind(),  &hold_kind(),         &vent_kind()};
  return all;
}

const char* name(StepKind kind) {
  for (const StepKindEntry* entry : step_kinds()) {
    if (entry->kind == kind) return entry->word;
  }
  return "";
}

}  // namespace vacuary::plan
