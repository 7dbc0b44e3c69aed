// The bytes of an export as UTF-8 text, whatever it was: plain, gzip or zstd by its first bytes,
// UTF-8 with or without byte-order mark, UTF-16 or Latin-1. Streaming, constant memory.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/base.hpp"

namespace vacuary::log {

// Physical lines of a file, from 1; none of them: last < first.
struct LineRange {
  std::uint64_t first = 1, last = 0;
};

class ByteStream {
 public:
  virtual ~ByteStream() = default;
  // Fills `out` with the next `size` bytes; fewer only at the end or after a failure.
  virtual std::size_t read(char* out, std::size_t size) = 0;
  // Why the bytes ended before their time, if they did.
  [[nodiscard]] virtual const std::optional<Diagnostic>& failure() const = 0;
  // Lines that come here last one first.
  [[nodiscard]] virtual LineRange turned() const { return {}; }
};

// What a header holds by the channel map: so one that begins with the comment mark is told from a comment.
struct HeaderNames {
  std::vector<std::string> all;  // each of these
  std::vector<std::string> any;  // one of these, or a channel's own name ("ion.pressure [Pa]")
  // The map names no column of time: without one called "time" the first is it, and no channel.
  bool first_is_time = false;
};

// How a file's text is written.
struct TextForm {
  // utf-8, utf-16, utf-16le, utf-16be or latin-1; a byte-order mark overrules it.
  std::string encoding = "utf-8";
  // Not 0: cells are apart by so many blanks or more, or by a tab. Between them comes one tab, and none at
  // the ends of a line. Blanks in quotation marks are the cell's. Where one blank is enough, that before a
  // bracket parts nothing ("pressure [Pa]"), unless the line begins with a bracket. Where it takes two, a
  // line with fewer cells than the header gets an empty one for each that is missing, if each of its cells
  // stands at an edge where its column's cells stand in lines that have all, and no two columns have met so
  // far. Here and where rows are turned a quotation mark that its line does not close is an ordinary
  // character.
  unsigned blanks = 0;
  unsigned preamble_lines = 0;  // the header is the first line behind them that is not blank
  // Rows are newest first: they come last one first (turned.hpp), which takes what else the file has.
  bool newest_first = false;
  bool units_line = false;
  unsigned footer_lines = 0;
  char comment = '\0';    // begins lines that are no rows; '\0': none are
  HeaderNames names{};    // the header may begin with that mark too
  char delimiter = '\0';  // '\0': any of those known
};

// What cannot be decoded becomes U+FFFD (UTF-16) or stays as it is (UTF-8), for the reader to report.
// `limit` bounds the bytes that come out of a compressed file. `received` as in Options.
using Received = std::function<void(const std::filesystem::path& file, std::string_view bytes)>;
[[nodiscard]] Result<std::unique_ptr<ByteStream>> open_bytes(const std::filesystem::path& path,
                                                             const TextForm& form, std::uint64_t limit,
                                                             const Received& received = nullptr);
// Such a text as `blanks` has it.
[[nodiscard]] std::string tabs_for_blanks(std::string_view text, const TextForm& form);

// A diagnostic's rule: there is nothing in the file, or no row.
inline constexpr const char* empty_log_rule = "empty-log";

// A diagnostic about the file as a whole.
[[nodiscard]] Diagnostic log_failure(const std::filesystem::path& path, std::string message,
                                     std::string remedy, std::string rule = "unreadable-log");

}  // namespace vacuary::log
