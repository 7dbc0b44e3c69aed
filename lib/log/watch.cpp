#include "log/watch.hpp"

#include <fmt/format.h>

#include <algorithm>
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
         what == What::angle || plan::is_text(what);
}

}  // namespace

StuckWatch::StuckWatch(plan::What what) : watched_(!stands_still_by_nature(what)) {}

void StuckWatch::start_run(double value, Instant at, std::uint64_t line) {
  step_ = any_ ? std::abs(value - value_) : 0;
  if (any_ && (value > value_) != up_) reversals_ += 1;
  up_ = value > value_;
  any_ = true;
  value_ = value;
  length_ = 1;
  event_.what = Oddity::stuck_value;
  event_.line = event_.last_line = line;
  event_.from = event_.to = at;
}

bool StuckWatch::shows_noise() const {
  const double least = std::min(least_step_, least_before_);
  return changed_ >= 8 && changed_ + unchanged_ >= 16 && reversals_ >= 0.3 * changed_ &&
         usual_step_ >= 1.5 * least;
}

bool StuckWatch::is_stuck() const {
  if (value_ == 0 || length_ < 8 || !shows_noise() || step_ > 6 * usual_step_) return false;
  return static_cast<double>(length_) >= improbable_run(unchanged_ / (changed_ + unchanged_));
}

// Takes the run that ends into the account of how the channel usually moves.
void StuckWatch::learn() {
  unchanged_ += static_cast<double>(length_ - 1);
  changed_ += 1;
  usual_step_ += (step_ - usual_step_) / std::min(changed_, 32.0);
  constexpr int lot = 64;
  if (steps_in_lot_ == lot) {
    least_before_ = least_step_;
    steps_in_lot_ = 0;
  }
  if (step_ > 0) {
    least_step_ = steps_in_lot_ == 0 ? step_ : std::min(least_step_, step_);
    if (least_before_ == 0) least_before_ = step_;
    ++steps_in_lot_;
  }
  if (changed_ + unchanged_ > 256) {
    changed_ /= 2;
    unchanged_ /= 2;
    reversals_ /= 2;
  }
}

void StuckWatch::end_run(const std::function<void(Event)>& emit) {
  const double samples = changed_ + unchanged_;
  const bool improbable = samples > 0 && static_cast<double>(length_) >= improbable_run(unchanged_ / samples);
  const bool stuck = is_stuck();
  if (improbable) {
    changed_ = unchanged_ = reversals_ = 0;  // noise has to be shown again
  } else {
    learn();
  }
  if (!stuck) return;
  event_.count = length_;
  event_.detail = fmt::format("the same digits for {}, {} rows, in a channel that used to vary",
                              say_seconds(event_.to.ns - event_.from.ns), length_);
  emit(event_);
}

void StuckWatch::look(const WatchedRows& rows, const std::function<void(Event)>& emit) {
  if (!watched_) return;
  event_.channel = rows.channel;
  for (std::size_t i = 0; i < rows.values.size(); ++i) {
    const double value = rows.values[i];
    if (value == value_ && any_) {
      ++length_;
      event_.to = rows.time[i];
      event_.last_line = rows.line[i];
    } else if (value == value) {
      if (any_) end_run(emit);
      event_.file = rows.file;
      start_run(value, rows.time[i], rows.line[i]);
    }
  }
}

void StuckWatch::finish(const std::function<void(Event)>& emit) {
  if (any_ && is_stuck()) end_run(emit);
}

// A change counts when digits after the point and significant digits change the same way, in two
// pieces running, after four alike: a value that falls through the decades in a format of few
// significant digits changes only one of the two.
void ResolutionWatch::look(const WatchedRows& rows, const std::vector<Parsed::Digits>& digits,
                           const std::function<void(Event)>& emit) {
  for (std::size_t piece = 0; piece < digits.size(); ++piece) {
    const std::size_t from = piece * digits_rows;
    const std::size_t to = std::min(from + digits_rows, rows.values.size());
    std::size_t changes = 0;
    for (std::size_t i = from + 1; i < to; ++i) {
      if (rows.values[i] != rows.values[i - 1]) ++changes;
    }
    if (changes < digits_rows / 4) continue;  // too still to tell
    const Parsed::Digits now = digits[piece];
    const bool coarser = now.decimals < usual_.decimals && now.significant < usual_.significant;
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
                       fmt::format("from {} to {} digits after the point", usual_.decimals, now.decimals)};
    }
    if (++differing_ < 2) continue;
    emit(pending_);
    usual_ = now;
    seen_ = 4;
    differing_ = 0;
  }
}

}  // namespace vacuary::log
