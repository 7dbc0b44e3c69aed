// A strip measured into a spreadsheet: CSV to the tree a strip file gives.
#pragma once

#include <memory>
#include <string>

#include "plan/node.hpp"

namespace vacuary::plan {

// One row a point. The header names the keys of a point (radius, thickness, uncertainty) and of an
// exposure, each with its unit in brackets (`energy [kWh]`) unless the cells hold units themselves.
// Rows whose exposure cells are alike are one exposure. An empty cell or "none" under `shield` means
// without. Lines that are empty or start with # are skipped. Regions of the tree are the cells.
// `broken`: the header will not do, and what is wrong is said.
[[nodiscard]] Document read_strip_csv(const std::shared_ptr<const Source>& source, const std::string& name);

}  // namespace vacuary::plan
