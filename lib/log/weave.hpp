// Several lines of time, such as one file for each device, woven into one: a row for every stamp of any.
//
// A strand that has no row at a stamp says "as before": until its next row, unless something is missing
// before that one. Then, and after its last row, for 1.5 times its own last distance, and NaN from there on;
// in a log on change always. What is missing in one strand breaks the woven rows. Rows of
// several strands are one, at the last one's stamp, if they are within a quarter of their distance and 0.25 s
// of each other, or within their distance if they come back from a gap.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "log/strand.hpp"

namespace vacuary::log {

class Weaver {
 public:
  Weaver(std::vector<std::unique_ptr<Strand>> strands, const plan::ChannelMap& map, const Options& options);
  Weaver(const Weaver&) = delete;  // figures_ looks at header_
  Weaver& operator=(const Weaver&) = delete;

  [[nodiscard]] const Header& header() const { return header_; }
  [[nodiscard]] const Block* next();
  [[nodiscard]] const Tally& tally() const { return tally_; }
  [[nodiscard]] const Diagnostics& diagnostics() const { return diagnostics_; }

 private:
  struct Line {
    std::unique_ptr<Strand> strand;
    std::vector<std::size_t> channel;  // index into header_.channels, by the strand's own
    std::vector<int> file;             // the same of files
    const Block* block = nullptr;      // null: it has ended
    std::size_t row = 0;               // the next one
    std::size_t next_break = 0;
    std::vector<std::size_t> next_text;
    std::vector<double> held;
    std::int64_t at_ns = 0, distance_ns = 0;
    bool begun = false;
    std::uint64_t last_line = 0,
                  unsaid = 0;  // woven rows of which it says nothing, before its start or after its end
    Instant unsaid_from;
  };

  static Header join(std::vector<Line>& lines);
  void load(Line& line);
  void take_events(Line& line);
  [[nodiscard]] static bool is_broken(const Line& line);
  void take_row(Line& line, std::size_t to);
  void fill_row(Line& line, Instant time);
  [[nodiscard]] static std::int64_t distance_ns(const Line& line);
  [[nodiscard]] static std::int64_t reach_ns(const Line& line);
  [[nodiscard]] std::optional<Instant> next_time() const;
  void add_row(Instant time);
  void tell_unsaid(const Line& line, std::uint64_t at_line, Instant to, const std::string& how);
  void finish();
  [[nodiscard]] Event renamed(const Line& line, Event event) const;
  void clear();

  std::vector<Line> lines_;
  Header header_;
  FigureMaker figures_;
  std::vector<double> seconds_;  // scratch of figures_
  bool on_change_ = false;
  bool started_ = false, finished_ = false;
  Block block_;
  Instant end_;
  Tally tally_;
  Diagnostics diagnostics_;
};

}  // namespace vacuary::log
