// An export that begins with its newest row, oldest row first.
#pragma once

#include <filesystem>
#include <memory>

#include "log/bytes.hpp"

namespace vacuary::log {

// The lines before the rows (TextForm) as they are, then the rows, last line first, then the lines of the
// footer. A last line without a line break may be cut, so it stays the last. `from` is read to its end at
// once, into a file without a name in the folder for temporary files.
[[nodiscard]] std::unique_ptr<ByteStream> turn_round(const std::filesystem::path& path,
                                                     std::unique_ptr<ByteStream> from, const TextForm& form);

}  // namespace vacuary::log
