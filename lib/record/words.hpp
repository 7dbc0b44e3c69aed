// The text that people read on a terminal about runs, signatures and archives. Control characters in
// what a file says are shown as '?'.
#pragma once

#include <string>
#include <vector>

#include "record/archive.hpp"
#include "record/index.hpp"
#include "record/run_check.hpp"

namespace vacuary::record {

// What the run is, its files, who signed what and when (claimed or stamped), who has still to sign.
[[nodiscard]] std::string run_check_text(const RunCheck& check);
// One line for each run, under the heading.
[[nodiscard]] std::string run_list_heading();
[[nodiscard]] std::string run_list_text(const std::vector<IndexedRun>& runs);
[[nodiscard]] std::string shown_run_text(const ShownRun& shown);
[[nodiscard]] std::string archive_check_text(const ArchiveCheck& check);

}  // namespace vacuary::record
