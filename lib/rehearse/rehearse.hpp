// Front door of `rehearse`: a plan to the log its run would leave, and the truth behind that log.
//
// A simulated plant runs the recipe: pumps, gas, glow, target, shutter, rotation and film, with
// true parameters drawn from the uncertainties the plan states. Instruments with their own ranges,
// errors and rhythms write the log. Faults disturb plant, instruments or logger.
//
// Shares no film code with `run` or `model`, on purpose: what they reconstruct is scored against
// what is laid here. README.md of this folder says what is simplified.
//
// The same plan, options and faults give the same bytes on one build; elsewhere the mathematical
// library may move a last digit.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "base/base.hpp"
#include "plan/channel.hpp"
#include "plan/plan.hpp"

namespace vacuary::rehearse {

// What a fault is about: the process (it may change the film), an instrument that reads wrongly,
// or the logger.
enum class Nature : std::uint8_t { process, instrument, log };
[[nodiscard]] const char* name(Nature nature);  // "process"

// One setting of a fault, as help and complaints show it. An empty `otherwise` is a text setting
// that may be left out (the fault then picks: the first gauge, the first argon line).
struct SettingKind {
  std::string name;                // "lasts"
  std::optional<Kind> kind;        // none: a name
  std::string otherwise;           // "4 s", taken when the setting is not given
  double low_si = 0, high_si = 0;  // accepted range, in SI
  std::string help;                // one clause
};

struct FaultKind {
  std::string name;  // "trip"
  Nature nature = Nature::process;
  std::string help;    // one sentence: what it does to the plant
  std::string during;  // when `at` counts from, in words: "start of the first film step"
  std::vector<SettingKind> settings;
};

// All faults there are, in the order in which help lists them.
[[nodiscard]] const std::vector<FaultKind>& fault_kinds();

// A fault to inject; settings that are not given take their default. Values are text with a unit.
struct Fault {
  std::string name;
  std::map<std::string, std::string> settings;
};

// "trip", or "trip:at=200s,lasts=4s": a name and settings, units with or without a blank before
// them. Unknown names, unknown settings, wrong units and values out of range are errors (rule
// `bad-fault`), with a suggestion.
[[nodiscard]] Result<Fault> parse_fault(std::string_view text);

// The table of faults as text for --help.
[[nodiscard]] std::string fault_help();

struct Options {
  std::uint64_t seed = 1;
  std::vector<Fault> faults;
  Instant start{1930370400000000000};  // 2031-03-04T06:00:00Z
  bool effects = true;                 // false: leave out each fault's own effect on the film
  bool scatter_plant = true;           // false: every true parameter has its nominal value
  // Logging periods, and whether the log is periodic or on change (then rows come no faster than
  // that, and a cell that has not moved is empty); none: every 30 s, glow 5 s, film 1 s.
  const plan::ChannelMap* map = nullptr;
};

struct Rehearsal {
  std::string log_csv;     // RFC 4180 with plain line feeds, headers `name [unit]` as in plan/channel.hpp
  std::string truth_json;  // format "vacuary-truth 1", see README.md
};

// Fails (rule `bad-fault`) when a fault has no place in this plan: a step, gauge or gas line that
// is not there. Steps that cannot reach their end stop at their longest time, as a crew would.
[[nodiscard]] Result<Rehearsal> rehearse(const plan::Plan& plan, const Options& options);

}  // namespace vacuary::rehearse
