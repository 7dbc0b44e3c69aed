// Looking at an export that nobody has described: its table and its time by the first rows, then
// its columns by all rows. What is found is a guess and says so; sketch.cpp writes it down.
#pragma once

#include <algorithm>
#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "log/bytes.hpp"
#include "log/layout.hpp"
#include "log/log.hpp"
#include "log/number.hpp"
#include "log/record.hpp"
#include "log/stamp.hpp"
#include "log/words.hpp"

namespace vacuary::log {

using Cells = std::vector<std::string>;

// The beginning of an export, decoded.
struct Beginning {
  std::string text;  // whole lines, at most about 256 KiB
  TextForm form;
};
[[nodiscard]] Result<Beginning> read_beginning(const std::filesystem::path& file);

struct Table {
  char delimiter = ',';
  char comment = '\0';        // begins lines that are no rows; '\0': nothing shows that such lines are none
  std::size_t preamble = 0;   // lines before the header
  std::string header_record;  // the header as it stands there; it may begin with the comment mark
  Cells header, units;        // units: empty when there is no line of them
  Cells units_above;          // the same, of a line above the names
  std::size_t comments = 0;   // between the header and the line of units
  std::size_t rows_from = 0;  // where in the decoded text the rows begin
  std::vector<Cells> rows;    // the first ones, those with as many cells as the header
  [[nodiscard]] RecordMarks marks() const { return {delimiter, comment}; }
  NumberStyle style;
  std::string comma_or_thousands;  // a number such as "1,234", if nothing shows which of the two its comma is
  bool newest_first = false;       // `rows` are in the order of time all the same
};
// Where blanks part the cells, `beginning` says so afterwards and has tabs.
[[nodiscard]] Result<Table> find_table(const std::filesystem::path& file, Beginning& beginning);
// What a text is by how it begins; nullptr: it may be a table.
[[nodiscard]] const char* kind_of_no_table(std::string_view text);
// Why these lines are none of a table, if that shows; and whether most of them hold no number and no stamp.
[[nodiscard]] std::optional<Diagnostic> no_table(const std::filesystem::path& file,
                                                 const std::vector<std::string_view>& lines);
[[nodiscard]] bool hold_no_values(const std::vector<std::string_view>& lines);
// The records of a text as rows of cells, empty ones at the end cut off; blank lines and comments left out.
[[nodiscard]] std::vector<Cells> records(std::string_view text, RecordMarks marks);

struct TimeGuess {
  std::size_t column = 0;
  std::vector<std::size_t> parts;  // in order, if there are several columns
  plan::TimeForm form = plan::TimeForm::rfc3339;
  std::string format;
  std::string other;  // the format with day and month the other way round, if that reads as well
  std::vector<std::string> orders;  // formats that read as well and put the year elsewhere, all there are
  std::string remark;               // why a person should look twice: "month first reads as well"
  std::string not_read;             // a unit of elapsed time that no form has
  std::string unknown;              // what stands where its unit should, and is none known here
  bool no_unit = false;             // of elapsed time: nothing says in which unit it is
  bool own_offset = false;          // each stamp carries its offset from UTC
  std::string period;               // usual distance of the first rows
  [[nodiscard]] bool has(std::size_t i) const {
    return i == column || std::find(parts.begin(), parts.end(), i) != parts.end();
  }
  // From the cells of a row, as `cell(i)` gives them.
  template <class F>
  [[nodiscard]] std::string stamp(F cell) const {
    return parts.empty() ? std::string(cell(column)) : joined_stamp(parts, cell);
  }
};
[[nodiscard]] std::optional<TimeGuess> find_time(const Table& table);

// Columns that seem to hold dates or times and are no part of `time`.
struct UnreadTime {
  std::size_t column = 0;
  std::string example;
  bool clock = false;  // a time of day alone
};
[[nodiscard]] std::vector<UnreadTime> unread_times(const Table& table, const TimeGuess* time);

// Line `key` of a map for a column, by its name. One without a name cannot be named in a map.
[[nodiscard]] std::string column_line(const Table& table, const char* key, std::size_t column,
                                      const char* mark);
// The [time] table of the map.
[[nodiscard]] std::string time_table(const Table& table, const TimeGuess* time,
                                     const std::vector<UnreadTime>& unread);

// Further columns of stamps in the form of `time`, each with columns behind it whose rows it dates: all of
// the log's time columns in order, `time`'s the first; empty if there is only one.
[[nodiscard]] std::vector<std::size_t> own_times(const Table& table, const TimeGuess& time);

// Whether a row has a stamp in the form guessed: a footer or a header that comes again has none.
class StampCheck {
 public:
  StampCheck(const Table& table, const TimeGuess& time);
  StampCheck(const StampCheck&) = delete;  // the reader keeps a pointer to the format
  StampCheck& operator=(const StampCheck&) = delete;
  [[nodiscard]] bool reads(std::string_view stamp) { return read(stamp).has_value(); }
  [[nodiscard]] std::optional<Instant> read(std::string_view stamp);

 private:
  StampFormat format_;
  StampReader reader_;
};

// Lines behind the last row, none of which reads as a row. `end`: the last lines of the export.
[[nodiscard]] std::size_t count_footer(const std::vector<Cells>& end, const Table& table,
                                       const TimeGuess& time);

// Rows of (time, name, value).
struct LongGuess {
  std::size_t name_column = 0, value_column = 0;
  int unit_column = -1, quality_column = -1;
};
[[nodiscard]] std::optional<LongGuess> find_long_form(const Table& table, const TimeGuess& time);

// What the cells of one column, or of one tag, are. Empty ones are not counted, nor what the reader
// knows without a map ("nan", "inf").
struct Content {
  static constexpr std::size_t most_words = 64;  // of either sort
  std::size_t numbers = 0, texts = 0;
  std::size_t broken = 0;  // look like numbers and read as none: "1.2.3", "5 mbar"
  double least = 0, most = 0;
  std::vector<std::string> words;  // both sorts, each once, in order of appearance
  std::vector<std::string> units;  // of numbers that carry theirs ("5 mbar"), each once, at most four
  bool more_words = false;         // texts
  static constexpr std::size_t most_steps = 40;
  std::vector<std::string> few_numbers;  // as they are written, each once, where there are no more of them
  bool many_numbers = false;
  void add(std::string_view cell, const NumberStyle& style);
  void add(const Content& other);
  void note_number(const std::string& text);
  void add_words(const Content& other);  // whatever the unit of its numbers
};

// Damage, a number in another style or with its unit; a comparison ("<1e-9") too.
[[nodiscard]] bool like_number(std::string_view word);

// Whether a column tells good values from bad ones, as its header says, or, of a status, what stands in it.
[[nodiscard]] bool is_quality(const Table& table, std::size_t column);
// By column, the one that says whether its values are good; -1: none. One alone may speak of all.
[[nodiscard]] std::vector<int> quality_columns(const Table& table);
// The line of the map that says what they hold of good values.
[[nodiscard]] std::string good_quality_line(const std::vector<Content>& qualities);

// The line of the map that says how far a shutter is open at each of its words.
[[nodiscard]] std::string states_line(const Content& cells);

// How much of a log is looked at. Every row of the first `thorough` bytes; behind them, so that a
// log of any length takes bounded work, one piece of every `of`.
struct Effort {
  std::size_t piece = std::size_t{1} << 20U;
  std::size_t thorough = 256;  // in pieces
  std::size_t of = 16;
};

// How much of a column is empty, and how that lies among the rest.
struct Filling {
  std::size_t filled = 0, empty = 0;
  std::size_t alone = 0;  // filled cells with an empty one below
  void add(bool is_empty);
  // Where rows hold what has changed, values stand alone; where a device is off, all below are empty.
  [[nodiscard]] bool is_sparse() const { return filled > 0 && 2 * empty >= filled && 4 * alone >= filled; }

 private:
  bool last_filled_ = false;
};

// What all rows say.
struct Survey {
  struct Tag {
    std::string name;
    std::vector<std::string> units;  // in its rows, each once, at most four
    Content content;
  };
  std::vector<Content> columns;  // by column; empty for rows of (time, name, value)
  std::vector<Filling> filling;  // the same
  std::vector<Tag> tags;         // in order of appearance
  Content quality;               // of rows of (time, name, value)
  bool more_tags = false;
  std::size_t rows = 0;                // with a stamp, if a time was found
  std::size_t comments = 0;            // lines behind the header that begin with the table's comment mark
  bool pieces = false;                 // of a part of the log only every `of`th piece was looked at
  bool ended_early = false;            // the file is damaged
  std::optional<Instant> first, last;  // stamps of the first and the last row
  std::vector<Cells> end;              // the last lines, whatever they are
  // Of a file of (time, name, value) that follows, or is followed by this one.
  void add_tags(const Survey& other);
};
[[nodiscard]] Result<Survey> survey(const std::filesystem::path& file, const TextForm& form,
                                    const Table& table, const TimeGuess* time, const LongGuess* long_form,
                                    const Effort& effort = {});

[[nodiscard]] bool is_unit(std::string_view text);

// What the numbers of a column are, as its header tells beside the others'.
enum class Role { reading, set_value, beside_mean };
[[nodiscard]] std::vector<Role> roles_of(const std::vector<std::string>& headers);

// One [[column]] of the map, or a comment in its place.
struct ColumnGuess {
  std::string header;      // as the export has it
  std::string name;        // without the brackets of its unit
  bool whole = false;      // the map must give the whole header: another column has the name too
  std::size_t number = 0;  // its place in the row, from 1; 0: a tag
  std::string unit;        // by the header's brackets, the line of units or the unit column
  Content content;
  bool long_form = false;
  Role role = Role::reading;
  std::string unit_from;      // what in the rows says so: "column of units", "cells"
  std::string other_unit;     // a second one that the same says
  std::string time, quality;  // headers of its own time column and of the one that says what is good
  [[nodiscard]] const std::string& in_map() const { return whole || long_form ? header : name; }
};
class ColumnWriter {
 public:
  explicit ColumnWriter(const plan::Plan* plant) : plant_(plant) {}
  // Before all `add`: a header that is a channel's name has it before any guess.
  void reserve(const std::string& header);
  void add(const ColumnGuess& column);
  void next_file() { earlier_ = headers_; }
  void add_unread_time(const std::string& header, const std::string& example);
  [[nodiscard]] const std::string& columns() const { return columns_; }
  // The line of columns that are passed over, if there are any.
  [[nodiscard]] std::string ignored() const;
  // The [steps] table, if a column looked like it.
  [[nodiscard]] std::string steps() const;

 private:
  [[nodiscard]] bool is_first(const std::string& header);
  void named(ColumnGuess column, const plan::Channel& channel);
  void numeric(const ColumnGuess& column, plan::What what, const std::string& unit_line);
  void nameless(const ColumnGuess& column);
  void unknown(const ColumnGuess& column);
  void volume_flow(const ColumnGuess& column);
  void coulomb(const ColumnGuess& column);
  [[nodiscard]] bool worded(const ColumnGuess& column);
  [[nodiscard]] bool numbered_steps(const ColumnGuess& column);
  void take_steps(const ColumnGuess& column, const std::vector<std::string>& texts);
  void broken(const ColumnGuess& column);
  void text(const ColumnGuess& column);
  void states(const ColumnGuess& column);
  [[nodiscard]] plan::Channel take(plan::Channel channel);
  [[nodiscard]] std::string channel_line(const ColumnGuess& column, plan::What what);

  const plan::Plan* plant_;
  std::set<std::string> headers_, earlier_;  // earlier_: of the files before
  std::set<plan::Channel> channels_, named_;
  std::string columns_, step_header_, step_time_;
  bool steps_numbered_ = false;  // another column may have their names
  std::vector<std::string> step_texts_, unknown_, set_values_, beside_means_;
};

// Text as TOML takes it in a basic string, with its quotation marks; and fit for a comment.
[[nodiscard]] std::string toml_text(std::string_view text);
[[nodiscard]] std::string comment_text(std::string_view text);

}  // namespace vacuary::log
