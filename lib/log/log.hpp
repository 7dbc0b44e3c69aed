// Front door of `log`: any plant's export to a stream of blocks of typed channels, with
// everything odd about each.
//
// Memory does not grow with the log. Nothing is bridged: whatever is missing, repeated, out of
// order or unreadable becomes an Event with its line, is counted, and leaves NaN in its cell.
// What is done in each case is written in lib/log/README.md.
//
// Gaps. The reader does not know the step. It holds each distance between rows against its
// neighbours: a gap is a distance over 1.5 times the usual one before and after it (median of up
// to five each way) and over 1.5 times the shortest period that the map states; over 1.5 times
// the longest stated period it is a gap always. So a change of cadence from 30 s to 1 s is none,
// and 28 s in the middle of rows every second is one. A step that was logged at another cadence
// than the map promises for its kind is for `run` to see: it has the times of all rows. On-change
// logs have no gaps, and their empty cells mean "as before": the last value stands.
//
// Whatever is missing in time, row by row: Block::breaks. An interval that ends at such a row
// must not be integrated as if its ends were neighbours.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <limits>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/base.hpp"
#include "plan/channel.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::log {

enum class Oddity : std::uint8_t {
  gap,  // rows further apart than the stated logging allows
  repeated_stamp,
  backward_stamp,
  daylight_saving_fold,
  clock_step,
  clock_restart,  // counts elapsed time from 0 again
  missing_cell,
  not_a_number,
  bad_value,
  overrange,
  unreadable_cell,
  stuck_value,
  quantisation_change,
  contradictory_unit,
  wrong_field_count,
  cut_last_line,
  repeated_header,
  joined_export,
  unreadable_time,
  too_long_line,
  bad_encoding,
  comment_line,
  shared_stamp,  // rows dated within a coarse stamp
  count_
};
[[nodiscard]] const char* name(Oddity oddity);  // "gap", "repeated stamp"

// Runs are one event: the same oddity of the same channel in neighbouring rows, or of neighbouring
// rows as wholes. An event comes with the block in which it ends.
struct Event {
  Oddity what = Oddity::gap;
  int file = 0;            // index into Header::files
  std::uint64_t line = 0;  // first line concerned, from 1, in that file
  std::uint64_t last_line = 0;
  std::uint64_t count = 1;  // cells or rows concerned between them
  int channel = -1;         // index into Header::channels, -1: the row as a whole
  Instant from, to;         // for gaps and runs; equal for single rows
  std::string detail;       // one clause: "12.5 s without a row (logged every 1 s)"
  double digit = 0;         // quantisation change: what one step of the last digit is, as a number of the log
  // Time or rows may be lost here that nothing else in the log stands for: of a clock that began again, of
  // rows that were dropped and are not known to be there twice.
  bool lost = false;
  std::string about{};  // in Tally::first: the channel's name, empty for the row as a whole
};

struct ChannelInfo {
  plan::Channel channel;
  std::string header;  // as in the file
  Unit unit;           // as logged; values in blocks are SI
  bool text = false;
};

struct Header {
  std::vector<ChannelInfo> channels;  // numeric and text, in file order
  std::vector<std::string> unmapped;  // headers nobody named
  std::string file;                   // the first
  std::vector<std::string> files;     // all, in the order they are read (README.md, "Several files")
  [[nodiscard]] int find(const plan::Channel& channel) const;  // -1: not in this log
};

// Structure of arrays; rows are in time order, equal stamps allowed (a row whose stamp runs
// backward is dropped, with its event; after a step of the log's clock they are dated as it would
// have gone on). Flows are mol/s at Options::gas. `values[c][row]` is SI, NaN where
// there is no usable value; empty for text channels. `texts[c]` holds the changes of a text channel: (row,
// new text); the first row of the first block always has one.
struct TextChange {
  std::size_t row = 0;
  std::string text;
};

// What rows say of one numeric channel, SI. Sums are taken in lanes of fixed number and the integral is
// compensated, so that no bit depends on instruction set or threads. The interval before a row counts if
// the row before is of the same part and nothing is missing between them; it is a trapezoid also where a
// log on change would have the value stand.
struct Figures {
  std::uint64_t good = 0;          // rows with a value
  double least = 0, greatest = 0;  // NaN: no row has one
  double first = 0, last = 0;      // of the first and the last row, NaN: none there
  double sum = 0;                  // of the values
  double integral = 0;             // over time, trapezoid, SI times s: intervals with a value at both ends
  double covered_s = 0;            // those intervals
  double outside_s = 0;            // intervals at whose end the value is outside Options::bounds
};
struct Bounds {
  double low = -std::numeric_limits<double>::infinity(), high = std::numeric_limits<double>::infinity();
};
// Rows [from, to), all of one step: as far as the text of run.step stays the same.
struct Part {
  std::size_t from = 0, to = 0;
  std::vector<Figures> of;  // by channel; nothing for text channels
};

struct Block {
  std::vector<Instant> time;
  std::vector<std::uint64_t> line;
  std::vector<std::vector<double>> values;
  std::vector<std::vector<TextChange>> texts;
  std::vector<Event> events;  // oddities found while reading these rows, by line
  int file = 0;               // index into Header::files; of the last row
  std::vector<int> files;     // by row, where files run side by side; else nothing: all rows are of `file`
  // Rows before which something is missing: after a gap, after rows that were dropped, the first
  // row of a further file. Ascending.
  std::vector<std::size_t> breaks;
  std::vector<Part> parts;  // with Options::figures; all rows, in order
  // Not 0: stamps are multiples of it, and rows that share one were dated within it.
  std::int64_t shared_stamp_ns = 0;
  [[nodiscard]] std::size_t rows() const { return time.size(); }
  [[nodiscard]] int file_of(std::size_t row) const { return files.empty() ? file : files[row]; }
};

// Counts over the whole log (cells or rows, not events); `first` keeps the first few events of each kind for
// the report.
struct Tally {
  std::array<std::uint64_t, static_cast<std::size_t>(Oddity::count_)> count{};
  std::vector<Event> first;  // at most 20 of each kind, by line
  std::uint64_t rows = 0, lines = 0, bytes = 0;
  Instant start, end;
  Duration period{};  // stated, or the median distance found
  // Long format: channels that rows are about and nobody named, as they first come; at most 100.
  std::vector<std::string> unmapped;
};

// Instruction sets the reader can use. The result is the same to the last bit with each; one that
// the processor lacks is replaced by the next below. For tests and benchmarks.
enum class InstructionSet : std::uint8_t { best, portable, avx2, avx512 };

struct Options {
  std::vector<std::string> wanted;  // channel names; empty: all mapped
  unsigned threads = 1;  // the caller's own thread is one of them; files side by side are read on it alone
  GasReference gas = GasReference::usual();  // what sccm and mbar L/s mean in this chamber
  InstructionSet instructions = InstructionSet::best;
  bool figures = false;                                  // work out Block::parts, on the threads that parse
  std::map<std::string, Bounds> bounds;                  // SI, by channel name, for Figures::outside_s
  std::uint64_t longest_line = std::uint64_t{1} << 20U;  // bytes; longer: too_long_line
  std::uint64_t largest_decompressed = std::uint64_t{1} << 38U;  // bytes; more: reading stops
  // Is given every byte of each file in its order, as it comes off the disk and before anything is made of
  // it: for a checksum of what was really read. Called by whatever thread reads, never by two at once.
  std::function<void(const std::filesystem::path& file, std::string_view bytes)> received;
};

class Reader {
 public:
  // Opens the log and reads its header. Without a map file the headers must be `name [unit]` with
  // channel names of channel.hpp. Fails with one clear message when the file is missing, empty,
  // a directory, binary, has no usable time column or a unit that contradicts the map.
  [[nodiscard]] static Result<Reader> open(const std::vector<std::filesystem::path>& files,
                                           const plan::ChannelMap& map, const Options& options = {});
  Reader(Reader&&) noexcept;
  Reader& operator=(Reader&&) noexcept;
  ~Reader();

  [[nodiscard]] const Header& header() const;
  // The next block, the rows of some 100 KiB of the log, until the next call; null at the end. A block
  // may have events and no rows.
  [[nodiscard]] const Block* next();
  // After the last block.
  [[nodiscard]] const Tally& tally() const;
  [[nodiscard]] const Diagnostics& diagnostics() const;  // what stopped the reading early, if anything

 private:
  struct State;
  explicit Reader(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

// Looks at an unknown export and writes a first channel map for it, in the format of
// channels.toml: "CONFIRM" marks every guess, "STATE" what only a person can know. A unit that the
// export does not state is left open. With a `plant`, devices and steps are looked for by its
// names. The map loads as soon as everything marked STATE is filled in. Several files are those of one run:
// one for each device, or following each other.
struct Sketch {
  std::string map;
  std::size_t to_confirm = 0, to_state = 0;
};
[[nodiscard]] Result<Sketch> sketch_map(const std::vector<std::filesystem::path>& files,
                                        const plan::Plan* plant = nullptr);

}  // namespace vacuary::log
