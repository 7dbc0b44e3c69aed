// Front door of `log`: any plant's export to a stream of blocks of typed channels, with
// everything odd about each.
//
// Memory does not grow with the log. Nothing is bridged: whatever is missing, repeated, out of
// order or unreadable becomes an Event with its line, is counted, and leaves NaN in its cell.
// What is done in each case is written in lib/log/README.md.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/base.hpp"
#include "plan/channel.hpp"

namespace vacuary::log {

enum class Oddity : std::uint8_t {
  gap,                 // rows further apart than the stated logging allows
  repeated_stamp, backward_stamp, daylight_saving_fold, clock_step,
  missing_cell, not_a_number, bad_value, overrange, unreadable_cell,
  stuck_value, quantisation_change, contradictory_unit,
  wrong_field_count, cut_last_line, repeated_header, joined_export, unreadable_time,
  too_long_line, bad_encoding, count_
};
[[nodiscard]] const char* name(Oddity oddity);       // "gap", "repeated stamp"

struct Event {
  Oddity what = Oddity::gap;
  std::uint64_t line = 0;            // first line concerned, from 1
  std::uint64_t last_line = 0;
  int channel = -1;                  // index into Header::channels, -1: the row as a whole
  Instant from, to;                  // for gaps and runs; equal for single rows
  std::string detail;                // one clause: "12.5 s without a row (logged every 1 s)"
};

struct ChannelInfo {
  plan::Channel channel;
  std::string header;                // as in the file
  Unit unit;                         // as logged; values in blocks are SI
  bool text = false;
};

struct Header {
  std::vector<ChannelInfo> channels;         // numeric and text, in file order
  std::vector<std::string> unmapped;         // headers nobody named
  std::string file;
  [[nodiscard]] int find(const plan::Channel& channel) const;  // -1: not in this log
};

// Structure of arrays; rows are in time order (a row whose stamp runs backward is dropped, with
// its event). `values[c][row]` is SI, NaN where there is no usable value; empty for text channels.
// `texts[c]` holds the changes of a text channel: (row, new text); the first row of the first
// block always has one.
struct TextChange { std::size_t row = 0; std::string text; };
struct Block {
  std::vector<Instant> time;
  std::vector<std::uint64_t> line;
  std::vector<std::vector<double>> values;
  std::vector<std::vector<TextChange>> texts;
  std::vector<Event> events;         // oddities found while reading these rows, by line
  [[nodiscard]] std::size_t rows() const { return time.size(); }
};

// Counts over the whole log; `first` keeps the first few events of each kind for the report.
struct Tally {
  std::array<std::uint64_t, static_cast<std::size_t>(Oddity::count_)> count{};
  std::vector<Event> first;          // at most 20 of each kind, by line
  std::uint64_t rows = 0, lines = 0, bytes = 0;
  Instant start, end;
  Duration period{};                 // stated, or the median distance found
};

struct Options {
  std::vector<std::string> wanted;   // channel names; empty: all mapped
  unsigned threads = 1;
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
  // The next block, at most a few thousand rows; false at the end. Blocks are reused.
  [[nodiscard]] bool next(Block& block);
  // After the last block.
  [[nodiscard]] const Tally& tally() const;
  [[nodiscard]] const Diagnostics& diagnostics() const;  // what stopped the reading early, if anything

 private:
  struct State;
  explicit Reader(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace vacuary::log
