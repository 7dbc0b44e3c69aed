// Time zones by their IANA names.
#pragma once

#include <string>
#include <vector>

namespace vacuary::plan {

// True for a zone this machine knows ("UTC" always is). Otherwise `known` holds the names there
// are, and is empty when the machine has no zone data.
[[nodiscard]] bool zone_is_known(const std::string& name, std::vector<std::string>& known);

}  // namespace vacuary::plan
