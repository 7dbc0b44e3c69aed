// Parsed slabs, in file order, to blocks: everything that needs to know what came before.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "log/figures.hpp"
#include "log/slab.hpp"
#include "log/spread.hpp"
#include "log/timeline.hpp"
#include "log/watch.hpp"

namespace vacuary::log {

class Merger {
 public:
  // `turned`: by file, lines that come last one first.
  Merger(const Header& header, std::vector<LineRange> turned, const plan::ChannelMap& map,
         const FigureMaker& figures);

  // Makes parsed.block what the reader hands out. `ahead`: the slab that follows, none at the end; then
  // every run still open is closed into this block.
  void merge(const SlabPlace& place, Parsed& parsed, const Parsed* ahead);
  [[nodiscard]] const Tally& tally() const { return tally_; }
  // Channels of a long log that no row spoke of.
  [[nodiscard]] std::vector<std::size_t> never_named() const;
  // Whether half of the channels of numbers that have any, or more, are empty in many rows and begin to be so
  // again and again, behind one value in four.
  [[nodiscard]] bool is_sparse() const;
  // Line of the file at which reading stopped because of another header; 0: it did not.
  [[nodiscard]] std::uint64_t stopped_at() const { return stopped_at_; }

 private:
  void row_events(const Parsed& parsed);
  void cell_events(const Parsed& parsed);
  void drop_rows(Parsed& parsed, const std::vector<bool>& keep, std::vector<std::size_t>& breaks) const;
  void hold_values(Parsed& parsed);
  void settle_texts(Parsed& parsed);
  void watch(const Parsed& parsed);
  void finish();
  [[nodiscard]] std::uint64_t line_in_file(std::uint64_t line, int file) const;
  void emit(Event event);
  void count(const Event& event);

  const Header& header_;
  std::vector<LineRange> turned_;
  const FigureMaker& figures_;
  std::vector<double> seconds_;  // scratch of figures_
  bool long_form_ = false;
  bool holds_ = false;        // on-change or long: a value stands until the next
  std::int64_t hold_ns_ = 0;  // for how long, 0: without end
  int file_ = 0;
  std::uint64_t lines_before_ = 0;  // in the present file
  Timeline timeline_;
  Spread spread_;
  std::vector<std::optional<Event>> open_;  // by channel: a run that reached the last row
  std::optional<Event> open_row_;           // the same for rows as wholes
  std::vector<std::optional<std::string>> text_;
  struct Held {
    double value;
    std::int64_t at_ns;
    std::int64_t distance_ns;
    bool any;  // has been named
  };
  std::vector<Held> held_;
  std::vector<StuckWatch> stuck_;
  std::vector<std::vector<std::size_t>> siblings_;  // numeric channels of the same device, by channel
  std::vector<ResolutionWatch> resolution_;
  std::vector<Event> events_;
  std::array<std::size_t, static_cast<std::size_t>(Oddity::count_)> kept_{};
  std::uint64_t stopped_at_ = 0;
  struct Empty {
    std::uint64_t cells = 0, runs = 0;
  };
  std::vector<Empty> empty_;  // by channel
  Tally tally_;
};

}  // namespace vacuary::log
