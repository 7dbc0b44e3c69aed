// Copying a folder of plain files. Private to the room.
#pragma once

#include <string>

#include "base/diagnostic.hpp"
#include "record/disk.hpp"

namespace vacuary::record {

// Copies `from` to `to`, which must be new; links and devices are refused. Each file is synced, folders
// are not. What was copied before an error stays for the caller to remove.
[[nodiscard]] Diagnostics copy_tree(Disk& disk, const std::string& from, const std::string& to);

}  // namespace vacuary::record
