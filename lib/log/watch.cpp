#include "log/watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

#include "log/words.hpp"

namespace vacuary::log {
namespace {

// How many equal samples in a row happen by chance once in 1e9 samples when a share `p` equals
// the one before: ln 1e-9 / ln p, with -ln p bounded below by constants, so that no libm is used.
double improbable_run(double p) {
  constexpr double ln_billion = 20.8;
  if (p < 0.05) return 8;
  if (p < 0.2) return ln_billion / 1.6;
  if (p < 0.37) return ln_billion;
  return ln_billion / (1 - p);
}

bool stands_still_by_nature(plan::What what) {
  using plan::What;
  return what == What::energy || what == What::arcs || what == What::index || what == What::open ||
         what == What::angle || what == What::frequency || plan::is_text(what);
}

// Whether values show noise, and `value` after them is one of that noise; then the length from
// which on a run of it is improbable, else 0.
double improbable_after(const std::vector<double>& before, double value) {
  double changes = 0;
  double same = 0;
  double reversals = 0;
  double sum = 0;
  double least = 0;
  double step = 0;
  bool up = false;
  for (std::size_t i = 1; i <= before.size(); ++i) {
    const double change = (i < before.size() ? before[i] : value) - before[i - 1];
    if (change == 0) {
      ++same;
      continue;
    }
    if (changes > 0 && (change > 0) != up) ++reversals;
    up = change > 0;
    step = std::abs(change);
    least = changes == 0 ? step : std::min(least, step);
    sum += step;
    ++changes;
  }
  if (changes < 8 || changes + same < 16) return 0;
  const bool noise = reversals >= 0.3 * changes && sum >= 1.5 * least * changes;
  const bool usual_step = step * changes <= 6 * sum;
  return noise && usual_step ? improbable_run(same / (changes + same)) : 0;
}

}  // namespace

StuckWatch::StuckWatch(plan::What what) : watched_(!stands_still_by_nature(what)) {}

void StuckWatch::begin_run(const WatchedRows& rows, std::size_t row) {
  any_ = true;
  device_moved_ = false;
  begin_ = row;
  value_ = rows.values[row];
  length_ = 1;
  event_.what = Oddity::stuck_value;
  event_.file = rows.file;
  event_.channel = rows.channel;
  event_.line = event_.last_line = rows.line[row];
  event_.from = event_.to = rows.time[row];
}

void StuckWatch::extend_run(const WatchedRows& rows, std::size_t last, std::uint64_t by) {
  if (by == 0) return;
  length_ += by;
  event_.last_line = rows.line[last];
  event_.to = rows.time[last];
}

// A bound that costs nothing, before the values are looked at.
double StuckWatch::length_to_look_at() const {
  const std::size_t n = last_.rows + one_before_.rows;
  if (n == 0) return 8;
  const double p = static_cast<double>(last_.same + one_before_.same) / static_cast<double>(n);
  return std::max(8.0, improbable_run(p) / 2);
}

bool StuckWatch::is_stuck(const std::vector<double>& values) {
  if (!any_ || value_ == 0 || value_ != value_ || static_cast<double>(length_) < length_to_look_at())
    return false;
  before_.clear();
  for (std::size_t i = begin_ == earlier ? 0 : begin_; i > 0 && before_.size() < window; --i) {
    if (values[i - 1] == values[i - 1]) before_.push_back(values[i - 1]);
  }
  for (std::size_t i = tail_.size(); i > 0 && before_.size() < window; --i) before_.push_back(tail_[i - 1]);
  std::reverse(before_.begin(), before_.end());
  const double needed = improbable_after(before_, value_);
  return needed > 0 && static_cast<double>(length_) >= needed;
}

// Nothing in the window before lay beyond the value, nor does what comes next.
bool StuckWatch::rests_at_an_end(double next) const {
  const auto [least, most] = std::minmax_element(before_.begin(), before_.end());
  const bool at_low = value_ <= *least && !(next < value_);
  const bool at_high = value_ >= *most && !(next > value_);
  return at_low || at_high;
}

// Whether another channel of the device changed while this one stood still.
bool StuckWatch::device_moves(std::size_t next) const {
  const bool began_before = begin_ == earlier;
  const std::size_t first = began_before ? 0 : begin_ + 1;  // rows that equal the one before
  for (const Stillness& other : *device_) {
    if (!other.counts) continue;
    if (began_before && event_.from < other.since) return true;
    for (std::size_t row = first; row < next; ++row) {
      if ((((*other.same)[row / 64] >> (row % 64)) & 1U) == 0 && row > 0) return true;
    }
  }
  return false;
}

void StuckWatch::end_run(const WatchedRows& rows, std::size_t next, const std::function<void(Event)>& emit) {
  if (!is_stuck(rows.values)) return;
  const double behind = next < rows.values.size() ? rows.values[next] : value_;
  if (rests_at_an_end(behind)) return;
  if (device_moved_ || (device_ != nullptr && device_moves(next))) return;
  event_.count = length_;
  event_.detail = fmt::format("the same digits for {}, {} rows, in a channel that used to vary",
                              say_seconds(event_.to.ns - event_.from.ns), length_);
  emit(event_);
}

Stillness StuckWatch::enters(const WatchedRows& rows) const {
  const bool goes_on = any_ && !rows.values.empty() && rows.values[0] == value_;
  const bool off = rows.values.empty() || rows.values[0] == 0 || std::isnan(rows.values[0]);
  const Instant since = goes_on ? event_.from : rows.time.empty() ? Instant{} : rows.time[0];
  return {watched_ && !off, since, &rows.same};
}

// One tile of n rows: bit i of `same` says that row from + i equals the row before.
void StuckWatch::tile(const WatchedRows& rows, std::size_t from, std::uint64_t same, std::size_t n,
                      const std::function<void(Event)>& emit) {
  const auto leading = std::min(n, static_cast<std::size_t>(std::countr_one(same)));
  if (leading > 0) extend_run(rows, from + leading - 1, leading);
  if (leading == n) return;
  end_run(rows, from + leading, emit);
  const auto trailing = static_cast<std::size_t>(std::countl_one(same << (64 - n)));
  const std::size_t last_begin = n - 1 - trailing;
  // Seven in a row that equal the one before are a run of eight.
  std::uint64_t seven = same & same >> 1U;
  seven &= seven >> 2U;
  seven &= seven >> 3U;
  const auto from_bit = [](std::size_t bit) { return bit < 64 ? ~std::uint64_t{0} << bit : 0; };
  seven &= from_bit(leading) & ~from_bit(last_begin + 1);
  while (seven != 0) {
    const auto first = static_cast<std::size_t>(std::countr_zero(seven));
    const auto length = static_cast<std::size_t>(std::countr_one(same >> first));
    begin_run(rows, from + first - 1);
    extend_run(rows, from + first - 1 + length, length);
    end_run(rows, from + first + length, emit);
    seven &= from_bit(first + length);
  }
  begin_run(rows, from + last_begin);
  extend_run(rows, from + n - 1, trailing);
  one_before_ = last_;
  last_ = {static_cast<std::size_t>(std::popcount(same)), n};
}

void StuckWatch::keep_tail(const std::vector<double>& values) {
  if (begin_ == earlier) return;
  before_.clear();
  for (std::size_t i = begin_; i > 0 && before_.size() < window; --i) {
    if (values[i - 1] == values[i - 1]) before_.push_back(values[i - 1]);
  }
  for (std::size_t i = tail_.size(); i > 0 && before_.size() < window; --i) before_.push_back(tail_[i - 1]);
  tail_.assign(before_.rbegin(), before_.rend());
  begin_ = earlier;
}

void StuckWatch::look(const WatchedRows& rows, const std::vector<Stillness>& device,
                      const std::function<void(Event)>& emit) {
  const std::size_t n = rows.values.size();
  if (!watched_ || n == 0) return;
  device_ = &device;
  for (std::size_t from = 0; from < n; from += 64) {
    std::uint64_t same = rows.same[from / 64];
    if (from == 0 && any_ && rows.values[0] == value_) same |= 1U;
    tile(rows, from, same, std::min<std::size_t>(64, n - from), emit);
  }
  if (length_ >= 8) device_moved_ = device_moved_ || device_moves(n);
  keep_tail(rows.values);
  device_ = nullptr;
}

void StuckWatch::finish(const std::function<void(Event)>& emit) {
  const std::vector<double> values;
  const std::vector<std::uint64_t> none;
  const std::vector<Instant> time;
  end_run({values, none, time, none, 0, 0}, 0, emit);
}

void mark_same(const Kernels& kernels, const std::vector<double>& values, std::vector<std::uint64_t>& same) {
  same.resize((values.size() + 63) / 64);
  kernels.same(values.data(), values.size(), same.data());
}

// A value that used to vary stands where rounding to so many digits would put it.
bool ResolutionWatch::rounds_away(double value, const Parsed::Digits& digits) const {
  if (value == 0 || digits.significant == 0) return false;
  const double half_digit = 5 / exact_powers_of_ten[std::min<std::size_t>(digits.significant, 22)];
  return std::abs(value - level_) <= half_digit * std::abs(value);
}

// A change counts when digits after the point and significant digits change the same way, in two
// pieces running, after four alike: a value that falls through the decades in a format of few
// significant digits changes only one of the two.
void ResolutionWatch::look(const WatchedRows& rows, const std::vector<Parsed::Digits>& digits,
                           const std::function<void(Event)>& emit) {
  for (std::size_t piece = 0; piece < digits.size(); ++piece) {
    const std::size_t from = piece * digits_rows;
    const std::size_t to = std::min(from + digits_rows, rows.values.size());
    const std::size_t changes = to - from - static_cast<std::size_t>(std::popcount(rows.same[piece]));
    const Parsed::Digits now = digits[piece];
    if (now.significant == 0 && now.decimals == 0) continue;  // no digits in the channel's own unit
    const bool coarser = now.decimals < usual_.decimals && now.significant < usual_.significant;
    const bool still = changes < digits_rows / 4;
    if (still && !(coarser && changes <= 1 && rounds_away(rows.values[to - 1], now)))
      continue;  // cannot tell
    if (!still) level_ = rows.values[to - 1];
    const bool finer = now.decimals > usual_.decimals && now.significant > usual_.significant;
    if (seen_ < 4 || !(coarser || finer)) {
      seen_ = seen_ > 0 && now.decimals == usual_.decimals ? std::min(seen_ + 1, 4) : 1;
      usual_ = now;
      differing_ = 0;
      continue;
    }
    if (differing_ == 0) {
      pending_ = Event{Oddity::quantisation_change,
                       rows.file,
                       rows.line[from],
                       rows.line[to - 1],
                       1,
                       rows.channel,
                       rows.time[from],
                       rows.time[from],
                       fmt::format("from {} to {} digits after the point", usual_.decimals, now.decimals),
                       1 / exact_powers_of_ten[std::min<std::size_t>(now.decimals, 22)]};
    }
    if (++differing_ < 2) continue;
    emit(pending_);
    usual_ = now;
    seen_ = 4;
    differing_ = 0;
  }
}

}  // namespace vacuary::log
