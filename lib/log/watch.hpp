// What only a look at neighbouring values shows: a device that stopped updating, and a channel
// whose resolution changed.
//
// Stuck. Of a channel that changes in a share 1 - p of its samples, n equal ones in a row are
// expected once in p^-n samples; a run that long by chance once in 1e9 samples or rarer is
// reported. p and all else is taken from the 128 samples before the run. It holds for a channel
// that shows its noise there, over more than one step of its last digit and up as well as down: a
// slow drift through a coarse display stands still for long, and is not reported. Nor is a value
// of zero (something is off), one reached by a step beyond the channel's usual ones (something was
// switched), or a channel that stands still by nature (a counter, a shutter, the angle of an optic
// at rest).
//
// Nor is a channel that rests: at the end of its range (no value before in the window lay beyond,
// and none after; a gauge below what it can read), or while another channel of its device moves on
// (a regulated power, to the last digit of its display): a device that has stopped reading stands
// still in all its channels.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "log/slab.hpp"

namespace vacuary::log {

// Rows of one slab for the watches: values of one channel, stamps and absolute lines. `same` has a
// bit for each row, set where the value equals the one before in the slab (mark_same).
struct WatchedRows {
  const std::vector<double>& values;
  const std::vector<std::uint64_t>& same;
  const std::vector<Instant>& time;
  const std::vector<std::uint64_t>& line;
  int file = 0;
  int channel = 0;
};

// Where a channel stands still: since when at the beginning of the slab, and its rows that equal the
// one before.
struct Stillness {
  bool counts = false;  // it may move, and is not off
  Instant since;        // begin of the run that was open when the slab began
  const std::vector<std::uint64_t>* same = nullptr;
};

class StuckWatch {
 public:
  explicit StuckWatch(plan::What what);
  // `device`: the other channels of the same device, in the same slab.
  void look(const WatchedRows& rows, const std::vector<Stillness>& device,
            const std::function<void(Event)>& emit);
  void finish(const std::function<void(Event)>& emit);
  // Before look(): how the channel enters the slab.
  [[nodiscard]] Stillness enters(const WatchedRows& rows) const;

 private:
  void tile(const WatchedRows& rows, std::size_t from, std::uint64_t same, std::size_t n,
            const std::function<void(Event)>& emit);
  void begin_run(const WatchedRows& rows, std::size_t row);
  void extend_run(const WatchedRows& rows, std::size_t last, std::uint64_t by);
  // `next`: the row behind the run.
  void end_run(const WatchedRows& rows, std::size_t next, const std::function<void(Event)>& emit);
  [[nodiscard]] bool is_stuck(const std::vector<double>& values);
  [[nodiscard]] bool rests_at_an_end(double next) const;
  [[nodiscard]] bool device_moves(std::size_t next) const;
  [[nodiscard]] double length_to_look_at() const;
  void keep_tail(const std::vector<double>& values);

  static constexpr std::size_t window = 128;
  static constexpr std::size_t earlier = static_cast<std::size_t>(-1);
  bool watched_ = true;
  const std::vector<Stillness>* device_ = nullptr;
  std::vector<double> tail_;    // values of the slabs before, up to the present run, at most `window`
  std::vector<double> before_;  // scratch: the same up to any run
  struct Share {
    std::size_t same = 0, rows = 0;
  };
  Share last_, one_before_;  // of the last two tiles
  // The run of equal values that goes on.
  bool any_ = false;
  std::size_t begin_ = earlier;  // its row in the slab
  double value_ = 0;
  std::uint64_t length_ = 0;
  bool device_moved_ = false;  // another channel of the device, while the run went on
  Event event_;
};

// Bit i of word i / 64: values[i] equals values[i - 1].
void mark_same(const Kernels& kernels, const std::vector<double>& values, std::vector<std::uint64_t>& same);

class ResolutionWatch {
 public:
  // `digits`: of the slab's pieces of digits_rows rows, in the same rows.
  void look(const WatchedRows& rows, const std::vector<Parsed::Digits>& digits,
            const std::function<void(Event)>& emit);

 private:
  [[nodiscard]] bool rounds_away(double value, const Parsed::Digits& digits) const;

  Parsed::Digits usual_;
  double level_ = 0;              // a value of the last piece that was not still
  int seen_ = 0, differing_ = 0;  // pieces in a row
  Event pending_;
};

}  // namespace vacuary::log
