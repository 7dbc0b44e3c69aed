// The sample plant with a change: what the cases of `bad` and `good` are made of.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "check/check.hpp"

namespace vacuary::check_test {

inline const std::filesystem::path folder = std::filesystem::path(VACUARY_SOURCE_DIR) / "tests" / "check";
inline const std::string recipe_name = "aluminium-90nm.toml";

// File name to text; what is not here is looked for on the disk, and not found.
using Files = std::map<std::string, std::string>;

// The sample of recipes/tarn-ridge.
[[nodiscard]] Files sample();

[[nodiscard]] std::string text_of(const std::filesystem::path& path);

// A case file is either a whole recipe (*.toml), which stands beside the sample's chamber and optic,
// or a change of the sample (*.patch):
//
//   Free text that says what is wrong.
//   @@ aluminium-90nm.toml
//    a line of the file, to find the place by
//   -a line that goes
//   +a line that comes
//
// The lines that start with a blank or '-' must stand in the file exactly once, in a row. Throws
// std::runtime_error when they do not: the sample has changed, and the case with it.
struct Case {
  std::string name;  // of the file, without its extension
  std::string recipe = recipe_name;
  std::string says;  // the free text
  Files files;
};
[[nodiscard]] Case read_case(const std::filesystem::path& path);
[[nodiscard]] std::vector<Case> cases_in(const std::filesystem::path& path);  // sorted by name

// Everything `vacuary check` would say: what loading says and, when it gave a plan, what the rules say.
[[nodiscard]] Diagnostics findings(const Case& c);

// The sample's plan; fails the test when it does not load.
[[nodiscard]] plan::Plan sample_plan();

}  // namespace vacuary::check_test
