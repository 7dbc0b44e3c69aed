// gzip and zstd as byte streams. Both take several members or frames one after another, stop with
// a failure at `limit` bytes of output (a small file that unpacks without end), and report a file
// that is damaged or ends too early; what was unpacked before stands.
#pragma once

#include "log/bytes.hpp"

namespace vacuary::log {

[[nodiscard]] std::unique_ptr<ByteStream> gunzip(std::filesystem::path path, std::unique_ptr<ByteStream> from,
                                                 std::uint64_t limit);
// Frames that need a window of more than 32 MiB are refused: memory is bounded.
[[nodiscard]] std::unique_ptr<ByteStream> unzstd(std::filesystem::path path, std::unique_ptr<ByteStream> from,
                                                 std::uint64_t limit);

}  // namespace vacuary::log
