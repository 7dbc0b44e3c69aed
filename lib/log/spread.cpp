#include "log/spread.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <utility>

#include "log/words.hpp"

namespace vacuary::log {

// Rows from one on, in this slab and the next.
struct Spread::Ahead {
  const Parsed& slab;
  const std::vector<bool>& keep;
  const Place& place;
  std::size_t row;

  // Differing rows of the stamp that begins at `row`, of the next one, and its stamp.
  struct Counts {
    std::size_t rows = 0, next_rows = 0;
    std::optional<std::int64_t> next_ns;
  };
  [[nodiscard]] Counts count() const {
    Counts counts;
    const std::int64_t first_ns = slab.block.time[row].ns;
    std::optional<std::uint64_t> mark_before;
    // Whether there is more to look at.
    const auto take = [&](std::int64_t ns, std::uint64_t mark) {
      const bool differs = mark != mark_before;
      mark_before = mark;
      if (ns == first_ns) {
        if (differs) ++counts.rows;
        return true;
      }
      if (!counts.next_ns) counts.next_ns = ns;
      if (ns != *counts.next_ns) return false;
      if (differs || counts.next_rows == 0) ++counts.next_rows;
      return true;
    };
    for (std::size_t i = row; i < slab.block.time.size(); ++i) {
      if (keep[i] && !take(slab.block.time[i].ns, slab.mark[i])) return counts;
    }
    const Parsed* next = place.ahead;
    if (next == nullptr || next->mark.empty()) return counts;
    for (std::size_t i = 0; i < next->block.time.size(); ++i) {
      if (!take(next->block.time[i].ns + place.offset_ns, next->mark[i])) break;
    }
    return counts;
  }
};

// Rows of a stamp are taken as far apart as where most of them share one: there the log is whole. Where a log
// becomes dense within a stamp, or begins again, they are its last; where it becomes rare, or ends, its
// first. Where some are missing between two that are whole nobody knows which. Where stamps have a row more
// and a row less in turn, the log is steady and rows go on as far apart as they are on the whole.
void Spread::begin(std::int64_t ns, const Ahead& ahead) {
  const std::int64_t before_ns = any_ ? ns - now_.at_ns : 0;
  unit_ns_ = std::gcd(unit_ns_, before_ns);
  rows_before_ = now_.rows;
  now_ = Stamp{};
  now_.at_ns = ns;
  any_ = true;
  const std::size_t steady_stamps = std::exchange(steady_stamps_, 0),
                    steady_rows = std::exchange(steady_rows_, 0);
  // One stamp that came twice is another thing.
  if (rows_before_ < 2 || unit_ns_ <= 0) return;
  const Ahead::Counts counts = ahead.count();
  if (counts.rows < 2) return;
  const std::int64_t to_next = counts.next_ns ? *counts.next_ns - ns : unit_ns_;
  if (to_next <= 0) return;
  const std::int64_t span_ns = std::min(unit_ns_, to_next);
  const bool begins = before_ns > unit_ns_, ends = to_next > unit_ns_;
  const bool thinner = !begins && !ends && counts.rows < std::min(rows_before_, counts.next_rows);
  // A row more or less by where it falls, or two where stamps are rounded.
  const auto alike = [&](std::size_t rows) {
    const std::size_t fewer = std::min(rows, counts.rows), more = std::max(rows, counts.rows);
    return more - fewer <= (fewer >= 5 ? 2U : 1U);
  };
  const bool equal = counts.rows == rows_before_ && counts.rows == counts.next_rows;
  const bool steady = !equal && before_ns == unit_ns_ && to_next == unit_ns_ && alike(rows_before_) &&
                      alike(counts.next_rows);
  if (steady) {
    steady_stamps_ = steady_stamps + 1;
    steady_rows_ = steady_rows + rows_before_;
    now_.spread = true;
    go_on(ns, counts.rows, counts.next_rows);
    return;
  }
  const std::size_t most = thinner ? counts.rows : std::max({rows_before_, counts.rows, counts.next_rows});
  const bool first = ends || (!begins && rows_before_ >= counts.next_rows);
  now_.spread = true;
  now_.distance_ns = last_distance_ns_ = span_ns / static_cast<std::int64_t>(most);
  now_.from_ns = first ? ns : ns + span_ns - static_cast<std::int64_t>(counts.rows) * now_.distance_ns;
}

// From the row before on, at the distance of all rows since the log has been steady, sooner or later where
// the stamps say so.
void Spread::go_on(std::int64_t ns, std::size_t rows, std::size_t next_rows) {
  const double stamps = static_cast<double>(steady_stamps_ + 2);
  const auto mean_ns = static_cast<std::int64_t>(stamps * static_cast<double>(unit_ns_) /
                                                 static_cast<double>(steady_rows_ + rows + next_rows));
  const std::int64_t last_ns = ns + unit_ns_ - mean_ns / 8, others = static_cast<std::int64_t>(rows) - 1;
  now_.from_ns = std::clamp(last_ns_ + mean_ns, ns, std::max(ns, last_ns - others * mean_ns));
  now_.distance_ns = std::min(mean_ns, (last_ns - now_.from_ns) / others);
  last_distance_ns_ = mean_ns;
}

// Whether all rows have stamps of their own, as in nearly all slabs: then a look at some of them is enough.
bool Spread::passes(const Parsed& slab, const std::vector<bool>& keep) {
  const std::vector<Instant>& time = slab.block.time;
  const bool own = !told_ && time.size() > 1 && slab.nearest_ns > 0 &&
                   std::find(keep.begin(), keep.end(), false) == keep.end();
  if (!own || (any_ && time.front().ns <= std::max(now_.at_ns, last_ns_))) return false;
  if (any_) unit_ns_ = std::gcd(unit_ns_, time.front().ns - now_.at_ns);
  unit_ns_ = std::gcd(std::gcd(unit_ns_, slab.nearest_ns), slab.furthest_ns);
  now_ = Stamp{};
  now_.at_ns = time.back().ns;
  now_.mark = slab.mark.back();
  now_.rows = rows_before_ = 1;
  any_ = true;
  last_ns_ = now_.at_ns;
  return true;
}

bool Spread::walk(const Place& place, Parsed& slab, const std::vector<bool>& keep) {
  if (slab.mark.empty() || passes(slab, keep)) return false;
  bool anew = false;
  for (std::size_t i = 0; i < slab.block.time.size(); ++i) {
    if (!keep[i]) continue;
    std::int64_t& ns = slab.block.time[i].ns;
    if (!any_ || ns != now_.at_ns) begin(ns, {slab, keep, place, i});
    if (now_.rows == 0 || slab.mark[i] != now_.mark) ++now_.rows;
    now_.mark = slab.mark[i];
    const std::uint64_t line = place.lines_before + 1 + slab.block.line[i];
    if (now_.spread) ns = now_.from_ns + static_cast<std::int64_t>(now_.rows - 1) * now_.distance_ns;
    // What was seen ahead may be dropped, or go on for longer than was seen.
    if (ns < last_ns_) {
      ns = last_ns_;
      anew = true;
    }
    last_ns_ = ns;
    if (!now_.spread) {
      if (told_) emit_(*std::exchange(told_, std::nullopt));
      continue;
    }
    anew = true;
    if (!told_ || told_->file != place.file) {
      if (told_) emit_(*std::exchange(told_, std::nullopt));
      told_ =
          Event{Oddity::shared_stamp,
                place.file,
                line,
                line,
                0,
                -1,
                Instant{ns},
                Instant{ns},
                fmt::format("stamps are multiples of {} and rows closer than that: each is dated within its "
                            "stamp, as far from the next as they are there",
                            say_seconds(unit_ns_))};
    }
    told_->last_line = line;
    told_->to = Instant{ns};
    ++told_->count;
  }
  return anew;
}

void Spread::finish() {
  if (told_) emit_(*std::exchange(told_, std::nullopt));
}

}  // namespace vacuary::log
