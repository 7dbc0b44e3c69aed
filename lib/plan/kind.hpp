// A kind of step is one self-contained place: its own file kind_<kind>.cpp with one entry, which
// says what a step of this kind takes and how it may end. Adding one means a word in StepKind, a
// file, and a line in kinds.cpp; no other kind is touched.
#pragma once

#include <string>
#include <vector>

#include "plan/reader.hpp"

namespace vacuary::plan {

struct StepKindEntry {
  StepKind kind;
  const char* word;
  const char* help;
  std::vector<std::string> must;  // setpoints without which the step means nothing
  std::vector<std::string> may;
  std::vector<std::string> ends;  // keys of `end`
  // What else must hold between the step and the plan's other files; null: nothing.
  void (*check)(const Step& step, const Plan& plan, Reader& reader);
};

[[nodiscard]] const StepKindEntry& pumpdown_kind();
[[nodiscard]] const StepKindEntry& rate_of_rise_kind();
[[nodiscard]] const StepKindEntry& plasma_clean_kind();
[[nodiscard]] const StepKindEntry& presputter_kind();
[[nodiscard]] const StepKindEntry& sputter_kind();
[[nodiscard]] const StepKindEntry& hold_kind();
[[nodiscard]] const StepKindEntry& vent_kind();

// All of them, in the order of StepKind.
[[nodiscard]] const std::vector<const StepKindEntry*>& step_kinds();

}  // namespace vacuary::plan
