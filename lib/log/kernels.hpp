// The inner loops of the reader, for each instruction set. All give the same results to the last bit;
// what a kernel cannot do exactly it hands back.
#pragma once

#include <cstddef>
#include <cstdint>

#include "log/log.hpp"

namespace vacuary::log {

// Positions written by an index kernel. The arrays have room for one entry a byte and 64 more.
struct Positions {
  std::uint32_t* delimiters = nullptr;
  std::size_t delimiter_count = 0;
  std::uint32_t* ends = nullptr;  // of LF, and of CR that stands alone
  std::size_t end_count = 0;
  bool ascii = true;  // no byte of the text is above 127
  bool nul = false;   // one is 0
};

// One column of at most 64 rows: where each cell starts and how many bytes it has.
inline constexpr std::size_t tile_rows = 64;
struct Tile {
  std::uint32_t begin[tile_rows];
  std::uint32_t length[tile_rows];
  std::size_t rows = 0;
};

struct TileNumbers {
  double value[tile_rows];             // 0 where not read
  std::uint64_t not_read = 0;          // bit r: row r is for the slow path
  std::uint64_t largest_mantissa = 0;  // its digits are the most significant digits written
  std::uint32_t most_decimals = 0;
};

// SI = gain * ((number + unit_offset) * factor) + offset.
struct Linear {
  double gain = 1, unit_offset = 0, factor = 1, offset = 0;
  [[nodiscard]] double si(double number) const { return gain * ((number + unit_offset) * factor) + offset; }
};

struct Kernels {
  // At least 128 readable bytes follow text[size - 1].
  void (*index)(const char* text, std::size_t size, char delimiter, Positions& out);
  // The same with quotation marks: what stands in quoted cells does not count. False when the
  // marks are not in order (record.hpp), or a quoted cell holds a line break: then nothing counts.
  bool (*index_quoted)(const char* text, std::size_t size, char delimiter, Positions& out);
  // Reads the cells that are plain numbers: optional '-', digits with at most one `point`, optional
  // exponent, at most 16 bytes, exact by one multiplication or division. 16 bytes from each cell's
  // start are readable.
  void (*numbers)(const char* text, const Tile& tile, char point, TileNumbers& out);
  // Bit i of `out` (a word for each 64 values begun): value i equals the one before; NaN equals nothing.
  void (*same)(const double* values, std::size_t n, std::uint64_t* out);
  // At most 64 numbers to SI; bits of those that are beyond the largest double then.
  std::uint64_t (*linear)(const double* from, std::size_t n, const Linear& by, double* to);
  // n values of one channel, at least one; dt_s[i]: time since the row before, 0 where it does not count
  // (dt_s[0] never does).
  void (*figures)(const double* values, const double* dt_s, std::size_t n, const Bounds& bounds,
                  Figures& out);
};

[[nodiscard]] const Kernels& kernels(InstructionSet set);

// The sets in kernels_x86.cpp; null where the processor (or the architecture) has them not.
[[nodiscard]] const Kernels* kernels_avx2();
[[nodiscard]] const Kernels* kernels_avx512();

// 10^0 to 10^22, all exact doubles.
extern const double exact_powers_of_ten[23];

}  // namespace vacuary::log
