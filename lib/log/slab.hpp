// A slab is a piece of a log that holds whole records: what the splitter cuts in file order and
// any thread may parse. Where slabs are cut depends on the bytes of the file alone, so nothing
// that is computed from a slab depends on the number of threads.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <string>
#include <vector>

#include "log/index.hpp"
#include "log/kernels.hpp"
#include "log/layout.hpp"

namespace vacuary::log {

inline constexpr std::size_t slab_bytes = std::size_t{128} << 10U;
inline constexpr std::size_t slab_padding = 128;  // readable bytes behind the last one

inline constexpr std::size_t digits_rows = tile_rows;
inline constexpr std::size_t most_unmapped = 100;  // names of a long log that are kept

// Something odd about rows as wholes. Lines count from 0 at the slab's first line; `row`: how many
// good rows came before.
struct RowOddity {
  Oddity what = Oddity::wrong_field_count;
  std::uint64_t line = 0, last_line = 0;
  std::uint64_t count = 1;
  std::size_t row = 0;
  std::string detail;
};

// The same oddity of one channel in neighbouring rows.
struct CellOddity {
  Oddity what = Oddity::missing_cell;
  int channel = 0;
  std::size_t row = 0, last_row = 0;
  std::string detail;
};

// Where a slab is in the log.
struct SlabPlace {
  int file = 0;
  bool first = false;              // of its file
  std::uint64_t lines_before = 0;  // first slab of a file: lines of preamble and header
  std::uint64_t file_bytes = 0;    // bytes of the log that it stands for
};

struct Slab {
  std::shared_ptr<const Layout> layout;
  SlabPlace place;
  std::vector<char> bytes;  // `size` of them, then padding
  std::size_t size = 0;
  bool quoted = false;              // a quotation mark may be in it
  bool last = false;                // of its file
  bool cut = false;                 // its last record has no line end in the file
  std::uint64_t skipped_lines = 0;  // too long, dropped before its first record
};

// What parsing makes of a slab.
struct Parsed {
  // Its rows. Before merging, lines count from 0 at the slab's first, values are unset_cell() where nothing
  // is said, and the first row always has a text.
  Block block;
  // The most digits that a channel's cells had, over pieces of digits_rows rows.
  struct Digits {
    std::uint8_t decimals = 0, significant = 0;
  };
  std::vector<std::vector<Digits>> digits;       // by channel
  std::vector<std::vector<std::uint64_t>> same;  // by channel: mark_same of watch.hpp
  // By row, of the values of Layout::marking: equal rows have equal marks. Empty in long logs.
  std::vector<std::uint64_t> mark;
  struct Twice {
    std::size_t row;
    Instant second;
  };
  std::vector<Twice> twice;  // rows in an hour that the clocks repeat
  std::vector<RowOddity> rows;
  std::vector<CellOddity> cells;
  std::vector<std::size_t> dropped;  // rows before which one or more were dropped
  std::vector<std::size_t> headers;  // rows before which the header stood again
  // Of neighbouring stamps, the least and the greatest distance; of one row or none: no distance.
  std::int64_t nearest_ns = std::numeric_limits<std::int64_t>::max(), furthest_ns = 0;
  void note_distances();              // from block.time
  std::vector<std::string> unmapped;  // long format: names that the layout does not know, each once
  std::uint64_t lines = 0;
  bool stopped = false;  // a different header: the rest was not read
  void clear(std::size_t channels);
};

// A NaN that means "the row says nothing of this channel" (on-change and long logs), apart from
// the NaN of an oddity.
[[nodiscard]] double unset_cell();
[[nodiscard]] bool is_unset(double value);

// A good row: where it starts and ends, and its first delimiter in the index.
struct RowSpan {
  std::uint32_t begin, end, delimiter;
};

// What a thread fills anew for each slab and keeps for its storage, which stays in its core's cache; apart
// from other threads', so that no two write to one line of the caches.
struct alignas(128) ParseScratch {
  Slab slab;
  SlabIndex index;
  std::vector<RowSpan> rows;
  std::vector<double> seconds;  // of FigureMaker
};

// Of `scratch.slab`.
void parse_slab(const Kernels& kernels, ParseScratch& scratch, Parsed& out);

}  // namespace vacuary::log
