#include "log/timeline.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "log/stamp.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::int64_t ns_per_s = 1'000'000'000;
constexpr std::int64_t hour_ns = 3600 * ns_per_s;
constexpr std::size_t rows_to_look_at = 5;

std::int64_t to_ns(Duration duration) {
  constexpr double longest_s = 31'557'600;  // a year: rows further apart are apart
  return static_cast<std::int64_t>(std::llround(std::min(duration.value(), longest_s) * 1e9));
}

std::int64_t median_of(std::array<std::int64_t, 5> values, std::size_t n) {
  for (std::size_t i = 1; i < n; ++i) {
    for (std::size_t j = i; j > 0 && values[j] < values[j - 1]; --j) std::swap(values[j], values[j - 1]);
  }
  return values[n / 2];
}

bool over(std::int64_t distance, std::int64_t usual) { return distance > usual + usual / 2; }

}  // namespace

std::string say_seconds(std::int64_t ns) {
  const double s = static_cast<double>(ns) / 1e9;
  if (s < 120) return fmt::format("{:.4g} s", s);
  if (s < 7200) return fmt::format("{:.4g} min", s / 60);
  return fmt::format("{:.4g} h", s / 3600);
}

void Cadence::add(std::int64_t distance_ns, std::uint64_t times) {
  constexpr std::size_t most_exact = 512;
  total_ += times;
  if (distance_ns == last_key_) {
    *last_count_ += times;
    return;
  }
  std::int64_t key = distance_ns;
  if (counts_.size() >= most_exact && !counts_.contains(key)) {
    std::int64_t unit = 1;
    while (key / unit >= 1000) unit *= 10;
    key = key / unit * unit;
  }
  last_count_ = &counts_[key];
  last_key_ = key == distance_ns ? key : -1;
  *last_count_ += times;
}

std::int64_t Cadence::median_ns() const {
  std::uint64_t seen = 0;
  for (const auto& [distance, count] : counts_) {
    seen += count;
    if (2 * seen > total_) return distance;
  }
  return 0;
}

Timeline::Timeline(const plan::ChannelMap& map, std::function<void(Event)> emit) : emit_(std::move(emit)) {
  std::vector<std::int64_t> periods;
  if (map.period) periods.push_back(stated_ns_ = to_ns(*map.period));
  for (const auto& step : map.step_periods) periods.push_back(to_ns(step.period));
  if (!periods.empty()) {
    shortest_ns_ = *std::min_element(periods.begin(), periods.end());
    longest_ns_ = *std::max_element(periods.begin(), periods.end());
  }
  // Rows of a long log come when some channel has something to say: only a stated period judges.
  newest_first_ = map.newest_first;
  gaps_ = map.logging == plan::Logging::periodic && (!map.long_form || longest_ns_ > 0);
  if (map.long_form) shortest_ns_ = longest_ns_;
  if (is_elapsed(map.time_form) && map.start) zero_ns_ = map.start->ns;
}

Duration Timeline::period() const {
  const std::int64_t ns = stated_ns_ > 0 ? stated_ns_ : cadence_.median_ns();
  return Duration::from_value(static_cast<double>(ns) / 1e9);
}

void Timeline::extend(Run& run, Oddity what, std::uint64_t line, Instant from, Instant to,
                      const std::string& detail) {
  if (!run.open) {
    run.open = true;
    run.event = Event{what, file_, line, line, 0, -1, from, to, detail};
  }
  run.event.last_line = line;
  run.event.to = to;
  ++run.event.count;
}

void Timeline::close(Run& run) {
  if (!run.open) return;
  run.open = false;
  emit_(std::move(run.event));
}

std::optional<std::int64_t> Timeline::following(const At& at, std::size_t n) const {
  const std::size_t i = at.row + n;
  if (i < at.slab.block.time.size()) return at.slab.block.time[i].ns + (n == 0 ? 0 : offset_ns_);
  const std::size_t j = i - at.slab.block.time.size();
  if (at.ahead != nullptr && j < at.ahead->block.time.size()) return at.ahead->block.time[j].ns + offset_ns_;
  return std::nullopt;
}

std::optional<std::uint64_t> Timeline::mark(const At& at, std::size_t n) const {
  const std::size_t i = at.row + n;
  if (at.slab.mark.empty()) return std::nullopt;
  if (i < at.slab.mark.size()) return at.slab.mark[i];
  const std::size_t j = i - at.slab.mark.size();
  if (at.ahead != nullptr && j < at.ahead->mark.size()) return at.ahead->mark[j];
  return std::nullopt;
}

// A stamp in the hour that the clocks repeat: the earlier reading unless that runs backward.
void Timeline::settle_twice(const Rows& rows, Parsed& slab, std::size_t i, std::size_t& next_twice) {
  if (next_twice >= slab.twice.size() || slab.twice[next_twice].row != i) {
    close(fold_);
    return;
  }
  const Instant second{slab.twice[next_twice++].second.ns + offset_ns_};
  if (start_ && slab.block.time[i].ns < last_ns_ && second.ns >= last_ns_) slab.block.time[i] = second;
  extend(fold_, Oddity::daylight_saving_fold, rows.lines_before + 1 + slab.block.line[i], slab.block.time[i],
         slab.block.time[i],
         start_
             ? "in the hour that the zone's clocks repeat; told apart by the order of the rows"
             : "in the hour that the zone's clocks repeat; the log begins in it, so the first pass is taken");
}

// A single stamp far ahead of the rows around it is the odd one, not all that follow.
bool Timeline::lies_ahead(const At& at) const {
  const std::int64_t ns = at.slab.block.time[at.row].ns;
  const std::size_t below = at.row + 1;
  if (below < at.slab.block.time.size() && at.slab.block.time[below].ns + offset_ns_ >= ns)
    return false;  // nearly always
  const auto next = following(at, 1);
  if (!next || *next >= ns) return false;
  const auto second = following(at, 2);
  const auto between = [&](std::int64_t t) { return (!start_ || t >= last_ns_) && t < ns; };
  return between(*next) && second && between(*second) && *second >= *next;
}

// Whether the log was being written at this time, as far back as is known.
bool Timeline::has_been_through(std::int64_t ns) const {
  return recall_.reaches_back_to(ns) && std::none_of(holes_.begin(), holes_.end(), [ns](const Hole& hole) {
           return hole.from_ns < ns && ns < hole.to_ns;
         });
}

// Time runs backward at this row. The clock was set, and the rows behind it are new, when they come
// as usual, back by seconds or by an hour, at times that the log has been through with other values.
// Rows that were there before, values and all, are a second export; rows at times that the log has
// not been through are out of order. Neither is dated anew.
bool Timeline::clock_was_set_back(const At& at) const {
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), 0);
  const std::int64_t first = *following(at, 0);
  const std::int64_t step = last_ns_ + usual - first;
  if (header_since_last_ || recall_.empty() || step > century_ns - offset_ns_) return false;
  std::size_t seen = 0;
  std::size_t covered = 0;
  std::size_t same = 0;
  std::int64_t before = first;
  for (; seen < rows_to_look_at; ++seen) {
    const auto ns = following(at, seen);
    const auto row = mark(at, seen);
    if (!ns || !row || *ns < before || *ns - before > 3 * usual + 1 || *ns >= last_ns_ + usual) break;
    before = *ns;
    if (has_been_through(*ns)) ++covered;
    if (recall_.has_same_row(*ns, *row)) ++same;
  }
  if (seen < 2) return false;
  if (was_put_right(step, usual)) return 2 * same < seen;
  const bool likely = step <= 5 * ns_per_s || std::abs(step - 3600 * ns_per_s) <= 5 * ns_per_s;
  return likely && covered == seen && 2 * same < seen;
}

// Back by as much as the last gap went forward: then that was no gap but a wrong clock.
bool Timeline::was_put_right(std::int64_t step_ns, std::int64_t usual) const {
  return last_jump_.ns > 0 && std::abs(step_ns - last_jump_.ns) <= std::max<std::int64_t>(usual, 1);
}

void Timeline::set_back(std::int64_t& ns, std::uint64_t line) {
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), 0);
  const std::int64_t step = last_ns_ + usual - ns;
  std::string detail = fmt::format("the log's clock was set back {}", say_seconds(step));
  if (was_put_right(step, usual)) {
    detail += newest_first_
                  ? ", as much as it had gone forward before: nothing is missing there"
                  : fmt::format(", as much as it had gone forward at line {}: nothing is missing there",
                                last_jump_.line);
    last_jump_ = {};
  }
  offset_ns_ += step;
  ns += step;
  detail += fmt::format("; rows from here {} are dated {} later than they say, so that time runs on",
                        newest_first_ ? "up" : "on", say_seconds(offset_ns_));
  emit_({Oddity::clock_step, file_, line, line, 1, -1, Instant{last_ns_}, Instant{ns}, detail});
}

bool Timeline::goes_on_anew(const At& at, std::int64_t later_ns) const {
  std::int64_t before = *following(at, 0);
  std::size_t seen = 0, same = 0;
  for (; seen < rows_to_look_at; ++seen) {
    const auto ns = following(at, seen);
    const auto row = mark(at, seen);
    if (!ns || !row || *ns < before || *ns + later_ns < last_ns_) break;
    before = *ns;
    if (recall_.has_same_row(*ns, *row)) ++same;
  }
  return seen >= 2 && 2 * same < seen && !like_first_rows(at);
}

bool Timeline::like_first_rows(const At& at) const {
  std::size_t seen = 0, same = 0;
  for (; seen < first_marks_.size(); ++seen) {
    const auto row = mark(at, seen);
    if (!row) break;
    if (*row == first_marks_[seen]) ++same;
  }
  return seen > 0 && 2 * same > seen;
}

// A time of day without its date, behind midnight, or of a clock that counts to twelve: by how much it goes
// back; 0: it does not.
std::int64_t Timeline::day_began_again(const At& at) const {
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), 0);
  for (const std::int64_t day_ns : {12 * hour_ns, 24 * hour_ns}) {
    const std::int64_t distance = *following(at, 0) + day_ns - last_ns_;
    if (distance > 0 && distance <= std::max(600 * ns_per_s, 3 * usual) && goes_on_anew(at, day_ns))
      return day_ns;
  }
  return 0;
}

void Timeline::begin_day(std::int64_t& ns, std::int64_t day_ns, std::uint64_t line) {
  offset_ns_ += day_ns;
  ns += day_ns;
  emit_({Oddity::clock_step, file_, line, line, 1, -1, Instant{last_ns_}, Instant{ns},
         fmt::format(
             "the log's time goes back {} and on from there: its {} began again; rows from here {} are dated "
             "{} later than they say",
             say_seconds(day_ns), day_ns == 24 * hour_ns ? "day" : "half day", newest_first_ ? "up" : "on",
             say_seconds(offset_ns_))});
}

// Elapsed time that counts from its zero once more, over rows that are not the log's first.
bool Timeline::count_began_again(const At& at) const {
  if (!zero_ns_) return false;
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), ns_per_s);
  const std::int64_t since_zero = *following(at, 0) - offset_ns_ - *zero_ns_;
  return since_zero >= 0 && since_zero <= 2 * usual && goes_on_anew(at, century_ns);
}

void Timeline::begin_count(std::int64_t& ns, std::uint64_t line) {
  const std::int64_t step = last_ns_ + std::max<std::int64_t>(usual_before(), 0) - ns;
  offset_ns_ += step;
  ns += step;
  Event event{
      Oddity::clock_restart,
      file_,
      line,
      line,
      1,
      -1,
      Instant{last_ns_},
      Instant{ns},
      fmt::format(
          "elapsed time counts from 0 again: how long nothing was written before it is not known; rows "
          "from here {} are dated as if it had gone on, {} later than they say",
          newest_first_ ? "up" : "on", say_seconds(offset_ns_))};
  event.lost = true;
  emit_(std::move(event));
}

// A clock that was set back and goes forward by as much is right again.
bool Timeline::set_forward_again(std::int64_t& ns, std::uint64_t line) {
  if (offset_ns_ == 0) return false;
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), 0);
  if (std::abs(ns - last_ns_ - usual - offset_ns_) > usual / 2) return false;
  ns -= offset_ns_;
  emit_({Oddity::clock_step, file_, line, line, 1, -1, Instant{last_ns_}, Instant{ns},
         fmt::format("the log's clock was set forward {}, as much as it had been set back; rows from here {} "
                     "are dated as they say",
                     say_seconds(offset_ns_), newest_first_ ? "up" : "on")});
  offset_ns_ = 0;
  return true;
}

void Timeline::drop_backward(std::int64_t ns, std::uint64_t line) {
  if (!backward_.open) {
    backward_first_ns_ = ns;
    backward_after_header_ = header_since_last_;
    backward_new_ = 0;
  }
  extend(backward_, Oddity::backward_stamp, line, Instant{last_ns_}, Instant{ns}, "");
}

void Timeline::close_backward() {
  if (!backward_.open) return;
  Event& event = backward_.event;
  const std::int64_t usual = std::max<std::int64_t>(usual_before(), 0);
  const std::int64_t step = last_ns_ + usual - backward_first_ns_;
  const std::int64_t log_start = start_ ? start_->ns : 0;
  const bool before_log = backward_first_ns_ < log_start;
  const bool anew = 2 * backward_new_ > event.count;
  const bool pasted = backward_same_ || (backward_after_header_ && !before_log && !anew);
  event.lost = event.count > 1 && !pasted && (before_log || anew);
  if (pasted && event.count > 1) {
    event.what = Oddity::joined_export;
    event.detail = fmt::format(
        "the log goes back {} to {}: two exports pasted together; the rows that are "
        "older than the last one were dropped",
        say_seconds(step), to_rfc3339(Instant{backward_first_ns_}));
  } else if (event.count > 1) {
    event.detail =
        fmt::format("the log goes back {} to {}, rows out of order; dropped until it had caught up",
                    say_seconds(step), to_rfc3339(Instant{backward_first_ns_}));
  } else {
    event.detail = fmt::format("stamped {} before the row {}; dropped",
                               say_seconds(last_ns_ - backward_first_ns_), newest_first_ ? "below" : "above");
  }
  close(backward_);
}

// The median of the last five, or what the last two have already changed to; a year at most.
std::int64_t Timeline::usual_before() const {
  if (ring_size_ == 0) return -1;
  if (even_ >= ring_.size()) return std::min(ring_[0], year_ns);
  std::int64_t usual = median_of(ring_, ring_size_);
  if (ring_size_ >= 2) {
    const std::size_t n = ring_.size();
    usual = std::max(usual, std::min(ring_[(ring_at_ + n - 1) % n], ring_[(ring_at_ + n - 2) % n]));
  }
  return std::min(usual, year_ns);
}

std::int64_t Timeline::usual_after(const At& at) const {
  std::array<std::int64_t, 5> distances{};
  std::size_t n = 0;
  auto from = following(at, 0);
  for (std::size_t j = 1; from && n < distances.size(); ++j) {
    const auto to = following(at, j);
    if (!to) break;
    if (*to > *from) distances[n++] = *to - *from;
    from = to;
  }
  return n == 0 ? -1 : median_of(distances, n);
}

bool Timeline::is_gap(const At& at, std::int64_t distance) {
  if (!gaps_) return false;
  if (shortest_ns_ > 0 && !over(distance, shortest_ns_)) return false;
  usual_ns_ = longest_ns_;
  if (longest_ns_ > 0 && over(distance, longest_ns_)) return true;
  const std::int64_t before = usual_before();
  if (before > 0 && !over(distance, before)) return false;
  usual_ns_ = std::max(before, usual_after(at));
  return usual_ns_ > 0 && over(distance, usual_ns_);
}

void Timeline::accept(std::int64_t ns, std::uint64_t mark) {
  if (start_) {
    const std::int64_t distance = ns - last_ns_;
    cadence_.add(distance);
    if (distance > 0) {
      even_ = distance == ring_[(ring_at_ + ring_.size() - 1) % ring_.size()] ? even_ + 1 : 1;
      ring_[ring_at_] = distance;
      ring_at_ = (ring_at_ + 1) % ring_.size();
      ring_size_ = std::min(ring_size_ + 1, ring_.size());
    }
  } else {
    start_ = Instant{ns};
  }
  last_ns_ = ns;
  header_since_last_ = false;
  if (first_marks_.size() < rows_to_look_at) first_marks_.push_back(mark);
  recall_.add(ns, mark);
}

void Timeline::note_gap(std::uint64_t line, std::int64_t to_ns, std::int64_t distance) {
  if (!gap_.open) worst_gap_ns_ = 0;
  worst_gap_ns_ = std::max(worst_gap_ns_, distance);
  extend(gap_, Oddity::gap, line, Instant{last_ns_}, Instant{to_ns}, "");
  last_jump_ = {distance - usual_ns_, line};
  constexpr std::size_t most_holes = 64;
  if (holes_.size() == most_holes) holes_.erase(holes_.begin());
  holes_.push_back({last_ns_, to_ns});
  const std::string logged = fmt::format("logged every {}", say_seconds(usual_ns_));
  gap_.event.detail = gap_.event.count == 1
                          ? fmt::format("{} without a row ({})", say_seconds(distance), logged)
                          : fmt::format("{} gaps in a row, the longest {} ({})", gap_.event.count,
                                        say_seconds(worst_gap_ns_), logged);
  // No clock change hides behind a plain gap without being named.
  if (gap_.event.count == 1 && std::abs(last_jump_.ns - 3600 * ns_per_s) <= std::min(5 * ns_per_s, usual_ns_))
    gap_.event.detail += "; an hour and no more: the clock may have been set forward, with nothing missing";
}

// Whether the row stays; `ns`: how it is dated; `broken`: something is missing before it.
bool Timeline::judge(const At& at, std::uint64_t line, std::int64_t& ns, bool& broken) {
  if (start_ && !backward_.open && ns < last_ns_ && clock_was_set_back(at)) {
    close(gap_);
    close(repeated_);
    set_back(ns, line);
    broken = true;
    return true;
  }
  if (start_ && !backward_.open && ns < last_ns_) {
    if (const std::int64_t day_ns = day_began_again(at); day_ns > 0) {
      begin_day(ns, day_ns, line);
    } else if (count_began_again(at)) {
      close(gap_);
      close(repeated_);
      begin_count(ns, line);
      broken = true;
      return true;
    }
  }
  if (start_ && (ns < last_ns_ || (backward_.open && ns == last_ns_))) {
    const bool marked = at.row < at.slab.mark.size();
    const bool same = marked && recall_.has_same_row(ns, at.slab.mark[at.row]);
    if (!backward_.open) backward_same_ = same || like_first_rows(at);
    drop_backward(ns, line);
    if (marked && !same && has_been_through(ns)) ++backward_new_;
    return false;
  }
  broken = backward_.open;
  close_backward();
  if (lies_ahead(at)) {
    const std::string far = start_ ? say_seconds(ns - last_ns_) : "far";
    emit_({Oddity::backward_stamp, file_, line, line, 1, -1, Instant{start_ ? last_ns_ : ns}, Instant{ns},
           fmt::format("stamped {} ahead of the rows around it; dropped", far)});
    pending_break_ = true;
    return false;
  }
  if (start_ && ns == last_ns_) {
    extend(repeated_, Oddity::repeated_stamp, line, Instant{ns}, Instant{ns},
           newest_first_ ? "the same stamp as the row below" : "the same stamp as the row above");
    return true;
  }
  close(repeated_);
  if (start_ && is_gap(at, ns - last_ns_)) {
    broken = true;
    if (set_forward_again(ns, line)) {
      close(gap_);
      return true;
    }
    note_gap(line, ns, ns - last_ns_);
  } else {
    close(gap_);
  }
  return true;
}

// Whether every row comes after the one before it, at distances so alike that none can be a gap, and
// nothing is open: then judge() would keep them all and find nothing. Nearly all slabs are like that.
bool Timeline::goes_on(const Parsed& slab, const Parsed* ahead) const {
  const std::vector<Instant>& time = slab.block.time;
  const bool open = backward_.open || gap_.open || repeated_.open || fold_.open || pending_break_;
  const bool odd = !slab.twice.empty() || !slab.headers.empty() || !slab.dropped.empty();
  if (!start_ || offset_ns_ != 0 || open || odd || time.empty() || ring_size_ < ring_.size()) return false;
  if (ahead != nullptr && !ahead->block.time.empty() && ahead->block.time.front().ns < time.back().ns)
    return false;
  const std::int64_t first = time.front().ns - last_ns_;
  const std::int64_t nearest = std::min(first, slab.nearest_ns);
  const std::int64_t furthest = std::max(first, slab.furthest_ns);
  if (nearest <= 0) return false;
  if (!gaps_ || (shortest_ns_ > 0 && !over(furthest, shortest_ns_))) return true;
  if (longest_ns_ > 0 && over(furthest, longest_ns_)) return false;
  const std::int64_t least_usual = std::min(nearest, *std::min_element(ring_.begin(), ring_.end()));
  return furthest < year_ns && !over(furthest, least_usual);
}

void Timeline::accept_all(const Parsed& slab) {
  const std::vector<Instant>& time = slab.block.time;
  std::size_t i = 0;
  // One distance throughout is counted at once, after the rows that still look back at others.
  const std::int64_t distance = slab.nearest_ns;
  if (distance == slab.furthest_ns && time.size() > 2 * ring_.size()) {
    for (; i <= ring_.size(); ++i) accept(time[i].ns, slab.mark.empty() ? 0 : slab.mark[i]);
    const std::size_t rest = time.size() - i;
    cadence_.add(distance, rest);
    even_ += rest;
    ring_at_ = (ring_at_ + rest) % ring_.size();
    for (; i < time.size(); ++i) recall_.add(time[i].ns, slab.mark.empty() ? 0 : slab.mark[i]);
    last_ns_ = time.back().ns;
    return;
  }
  for (; i < time.size(); ++i) accept(time[i].ns, slab.mark.empty() ? 0 : slab.mark[i]);
}

void Timeline::walk(const Rows& rows, Parsed& slab, std::vector<bool>& keep,
                    std::vector<std::size_t>& breaks) {
  if (rows.starts_further_file) {
    finish();
    header_since_last_ = true;
    pending_break_ = true;
    if (!slab.block.time.empty() && slab.block.time.front().ns >= last_ns_)
      offset_ns_ = 0;  // its own clock is right again
  }
  file_ = rows.file;
  keep.assign(slab.block.time.size(), true);
  breaks.clear();
  if (goes_on(slab, rows.ahead)) {
    accept_all(slab);
    return;
  }
  std::size_t next_twice = 0;
  std::size_t next_header = 0;
  std::size_t next_dropped = 0;
  for (std::size_t i = 0; i <= slab.block.time.size(); ++i) {
    for (; next_header < slab.headers.size() && slab.headers[next_header] == i; ++next_header)
      header_since_last_ = true;
    for (; next_dropped < slab.dropped.size() && slab.dropped[next_dropped] == i; ++next_dropped)
      pending_break_ = true;
    if (i == slab.block.time.size()) break;
    std::int64_t& ns = slab.block.time[i].ns;
    ns += offset_ns_;
    if (!slab.twice.empty() || fold_.open) settle_twice(rows, slab, i, next_twice);
    bool broken = false;
    keep[i] = judge({slab, rows.ahead, i}, rows.lines_before + 1 + slab.block.line[i], ns, broken);
    if (!keep[i]) continue;
    if (broken || pending_break_) breaks.push_back(i);
    pending_break_ = false;
    accept(ns, i < slab.mark.size() ? slab.mark[i] : 0);
  }
}

void Timeline::finish() {
  close_backward();
  close(gap_);
  close(repeated_);
  close(fold_);
}

}  // namespace vacuary::log
