// Figures of a run from its report.json. Private to the room.
#pragma once

#include <string_view>

#include "record/index.hpp"

namespace vacuary::record {

// Fills recipe, chamber, optic, author, verdict, started, notes and figures from report.json
// (schemas/report.schema.json). What is missing or of another kind stays empty: an index must be able to
// hold runs of every age. False when the bytes are no JSON object.
bool read_report(std::string_view bytes, IndexedRun& run);

}  // namespace vacuary::record
