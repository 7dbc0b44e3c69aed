// Looking at an export that nobody has described: its table, its time, its columns. What is found
// is a guess and says so; sketch.cpp writes it down.
#pragma once

#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "log/log.hpp"
#include "log/number.hpp"

namespace vacuary::log {

using Cells = std::vector<std::string>;

// The beginning and the end of an export, decoded.
struct Beginning {
  std::string text;  // whole lines, at most about 256 KiB
  std::string end;   // the last lines, at most about 16 KiB; empty when `text` is all there is
  std::string encoding;
};
[[nodiscard]] Result<Beginning> read_beginning(const std::filesystem::path& file);

struct Table {
  char delimiter = ',';
  std::size_t preamble = 0;      // lines before the header
  Cells header, units;           // units: empty when there is no line of them
  std::vector<Cells> rows;       // the first ones, those with as many cells as the header
  std::vector<Cells> last_rows;  // of the end of the file, whatever they are
  NumberStyle style;
  bool comma_or_thousands = false;  // "1,234" could be either, and nothing shows which
};
[[nodiscard]] Result<Table> find_table(const std::filesystem::path& file, const Beginning& beginning);

struct TimeGuess {
  std::size_t column = 0;
  int date_column = -1;
  plan::TimeForm form = plan::TimeForm::rfc3339;
  std::string format;
  std::string remark;       // why a person should look twice: "month first reads as well"
  std::string not_read;     // a unit of elapsed time other than seconds
  bool own_offset = false;  // each stamp carries its offset from UTC
  std::string period;       // usual distance of the first rows
};
[[nodiscard]] std::optional<TimeGuess> find_time(const Table& table);

// Lines behind the last row, none of which reads as a row.
[[nodiscard]] std::size_t count_footer(const Table& table, const TimeGuess& time);

// Rows of (time, name, value).
struct LongGuess {
  std::size_t name_column = 0, value_column = 0;
  int unit_column = -1;
  std::vector<std::string> names;  // in order of appearance
};
[[nodiscard]] std::optional<LongGuess> find_long_form(const Table& table, const TimeGuess& time);

// What the cells of one column are. `cells`: without the empty ones.
struct Content {
  std::size_t numbers = 0, texts = 0;
  double least = 0, most = 0;
  std::vector<std::string> words;  // the texts, each once, at most eight
  bool more_words = false;
};
[[nodiscard]] Content content_of(const std::vector<std::string>& cells, const NumberStyle& style);

[[nodiscard]] bool is_unit(std::string_view text);

// One [[column]] of the map, or a comment in its place.
struct ColumnGuess {
  std::string header;  // without brackets, as the map names it
  std::string unit;    // by the header's brackets, the line of units or the unit column
  Content content;
  bool long_form = false;
  bool unit_from_rows = false;  // by a column of units, which the reader does not look at
};
class ColumnWriter {
 public:
  explicit ColumnWriter(const plan::Plan* plant) : plant_(plant) {}
  void add(const ColumnGuess& column);
  [[nodiscard]] const std::string& columns() const { return columns_; }
  [[nodiscard]] const std::vector<std::string>& ignored() const { return ignored_; }
  // The [steps] table, if a column looked like it.
  [[nodiscard]] std::string steps() const;

 private:
  void named(const ColumnGuess& column, const plan::Channel& channel);
  void numeric(const ColumnGuess& column, plan::What what, const std::string& unit_line);
  void unknown(const ColumnGuess& column);
  void text(const ColumnGuess& column);
  void states(const ColumnGuess& column);
  [[nodiscard]] std::string channel_line(const std::string& header, plan::What what);

  const plan::Plan* plant_;
  std::set<std::string> headers_;
  std::set<plan::Channel> channels_;
  std::string columns_, step_header_;
  std::vector<std::string> step_texts_, ignored_;
};

// Text as TOML takes it in a basic string, with its quotation marks; and fit for a comment.
[[nodiscard]] std::string toml_text(std::string_view text);
[[nodiscard]] std::string comment_text(std::string_view text);

}  // namespace vacuary::log
