// Reading and writing whole files, with every failure told as a diagnostic.
#pragma once

#include <cstddef>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "base/source.hpp"

namespace vacuary {

// Plan files are written by people; a larger one is a mistake (a log given as a recipe).
inline constexpr std::size_t largest_plan_file = std::size_t{4} << 20U;

// The bytes of a regular file. Fails, naming the file and the reason, when it is missing, a
// directory, a device or a pipe, unreadable, or longer than `limit`.
[[nodiscard]] Result<std::string> read_file(const std::filesystem::path& path, std::size_t limit);

// The same as text with a name: additionally fails, naming the line and column, when the bytes are
// not UTF-8 or hold a NUL byte. A byte-order mark is kept in `bytes` (hashes are over bytes).
[[nodiscard]] Result<std::shared_ptr<const Source>> read_source(const std::filesystem::path& path,
                                                                std::size_t limit = largest_plan_file);

// Writes `bytes` to a temporary file beside `path`, syncs it, renames it over `path` and syncs the
// folder: afterwards `path` holds the old content or the new, never a part. With
// overwrite == false an existing `path` is an error and stays as it was.
[[nodiscard]] Result<std::filesystem::path> write_file(const std::filesystem::path& path,
                                                       std::string_view bytes, bool overwrite);

// The first byte of `text` that is not part of valid UTF-8 (no surrogates, no overlong forms,
// nothing past U+10FFFF), or npos.
[[nodiscard]] std::size_t first_invalid_utf8(std::string_view text);

}  // namespace vacuary
