// What plan::load and plan::load_channels complain of. The rules live there; their explanations
// live here so that `explain` knows every rule there is.
#include "check/rule.hpp"

namespace vacuary::check {

std::vector<RuleEntry> loader_rules() {
  return {
      {{"unreadable-file", Severity::error, "a file cannot be read as text",
        "The file is missing, empty, a folder, not readable by you, too large to have been written by a "
        "person, or not UTF-8 text. Nothing in it was looked at. The chamber and optic named in a recipe "
        "are looked for beside the recipe file."}},
      {{"syntax", Severity::error, "the file is not valid TOML",
        "The file breaks the grammar of TOML 1.0 at the place shown: a missing quote, bracket or equals "
        "sign, or one key set twice. What comes after that place may have been read wrongly or not at all, "
        "so mend this first and check again."}},
      {{"unknown-format", Severity::error, "the file is of another format or version",
        "Every plan file says in its first key what it is and in which version, for example format = "
        "\"vacuary-recipe 1\". The file says something else, so its keys could mean something else too. "
        "Often a chamber file was given where a recipe was expected."}},
      {{"unknown-key", Severity::error, "a key that means nothing here",
        "A key that is not known is an error and never skipped: a limit with a slip of the pen in its "
        "name would otherwise watch nothing. The nearest known key is suggested. Which keys a step may "
        "have depends on its kind: a vent has no power."}},
      {{"missing-key", Severity::error, "a key that must be there is not",
        "The value has no sensible default, so it must be stated. Nothing is assumed in its place."}},
      {{"wrong-type", Severity::error, "a value of another kind than the key takes",
        "A key that takes text got a number, a list got a single value, or the like. Quantities are text "
        "with a unit in quotes, power = \"15 kW\"; a bare number is taken only where things are counted, "
        "turns = 6."}},
      {{"bad-quantity", Severity::error, "text that is not a quantity of the kind expected",
        "A quantity is a number with a decimal point, a blank and a unit: \"2.0e-6 mbar\". Units are "
        "case-sensitive, because mW is not MW. The unit must measure what the key means: a flow in sccm "
        "is no power, a rotation in rpm is no frequency, and a temperature difference is given in K."}},
      {{"out-of-domain", Severity::error, "a value no such thing can have",
        "The value is well written and of the right kind but cannot be: a negative area, an outer radius "
        "inside the inner one, an emission exponent of -3. Usually a sign or a power of ten was mistyped."}},
      {{"bad-name", Severity::error, "a name that cannot be used",
        "Names of devices and steps become channel names and file names, so they are kept to plain "
        "characters and must not be empty."}},
      {{"unknown-reference", Severity::error, "a name that nothing bears",
        "A step, limit, cathode or channel map speaks of a pump, gauge, gas line, supply, cathode or step "
        "by a name that the chamber file (or the recipe) does not define. The nearest existing name is "
        "suggested."}},
      {{"duplicate-name", Severity::error, "one name for two things",
        "Two devices or two steps bear the same name, so a reference to it could mean either. Both places "
        "are shown."}},
  };
}

}  // namespace vacuary::check
