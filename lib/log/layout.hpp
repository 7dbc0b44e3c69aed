// What stands where in one file of a log: from its first lines and the channel map to a Layout.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "log/bytes.hpp"
#include "log/kernels.hpp"
#include "log/log.hpp"
#include "log/number.hpp"
#include "log/record.hpp"
#include "log/stamp.hpp"

namespace vacuary::log {

// How the cells of one channel become SI values:
//   value = gain * ((number + unit_offset) * factor) + offset, or with a logarithmic scale
//   value = gain * ((10^(a number + b) + unit_offset) * factor) + offset.
struct CellRule {
  bool text = false;
  Linear linear;
  bool logarithmic = false;
  double a = 1, b = 0;
  std::vector<double> bad_values;
  std::vector<std::string> bad_texts;
  std::optional<double> overrange;
  std::map<std::string, double> states;
  std::map<std::string, std::string> renames;  // of the step column
  int quality_column = -1;                     // says whether a cell is good, -1: all are
  // A cell, or a column of units, may name another unit of the same kind; none: no cell has a unit.
  std::optional<Unit> unit;
  [[nodiscard]] double si(double number) const;
  // Nothing has to be looked up for a cell that is a number.
  [[nodiscard]] bool plain() const { return bad_values.empty() && !overrange && states.empty(); }
};

struct Layout {
  char delimiter = ',';
  char comment = '\0';         // begins lines that are no rows; '\0': none are
  bool marked_header = false;  // the header begins with it too
  [[nodiscard]] RecordMarks marks() const { return {delimiter, comment}; }
  GasReference gas = GasReference::usual();
  bool newest_first = false;
  NumberStyle style;
  StampFormat stamp;
  plan::Logging logging = plan::Logging::periodic;
  std::size_t columns = 0;  // of a whole row
  std::size_t time_column = 0;
  // Columns whose cells, with blanks between them, are the time, in this order; empty: time_column alone.
  std::vector<std::size_t> time_parts;
  bool own_times = false;  // the column has stamps of its own: a row without one says nothing of it
  std::vector<int> channel_of_column;     // index into Header::channels, -1: not read
  std::vector<CellRule> rules;            // by channel
  std::vector<std::size_t> marking;       // channels by which a row is known again
  std::vector<std::string> good_quality;  // what a quality column says of good cells
  std::string header_record, time_header;
  std::vector<std::string> headers, units;  // by column, of the header and the line of units, if there is one
  std::vector<std::string> names;           // bare_name() of each header
  // Long format: rows of (time, channel, value).
  bool long_form = false;
  std::size_t name_column = 0, value_column = 0;
  int unit_column = -1;  // says what unit a row's value has, -1: nothing does
  std::map<std::string, int, std::less<>> channel_of_name;
};

// What the map says of how files are written.
[[nodiscard]] TextForm text_form(const plan::ChannelMap& map);

// A file opened, with its first lines read.
struct OpenedFile {
  std::unique_ptr<ByteStream> bytes;  // what follows `rest`
  std::string rest;                   // bytes already read that belong to the rows
  std::uint64_t lines = 0;            // physical lines before `rest`
  std::uint64_t consumed = 0;         // bytes before `rest`
  Layout layout;
  Header header;
  std::optional<Instant> first;  // stamp of the first row
  LineRange turned;              // lines that come last one first
};

// With `like`, the channels are those of an earlier file of the same log, in its order.
[[nodiscard]] Result<OpenedFile> open_log_file(const std::filesystem::path& path, const plan::ChannelMap& map,
                                               const Options& options, const Header* like = nullptr);

// "ion.pressure [mbar]" or "ion.pressure (mbar)" to name and unit; no brackets: unit is none.
struct HeaderText {
  std::string name;
  std::optional<std::string> unit;
};
[[nodiscard]] HeaderText split_header(const std::string& text);

// A header as it is compared with another: small letters, without its unit and the mark of comments, if the
// header begins with it.
[[nodiscard]] std::string bare_name(std::string_view header, const Layout& layout);

}  // namespace vacuary::log
