#include "log/merge.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "log/stamp.hpp"

namespace vacuary::log {
namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

template <class T>
void keep_only(std::vector<T>& values, const std::vector<bool>& keep) {
  if (values.size() != keep.size()) return;
  std::size_t to = 0;
  for (std::size_t i = 0; i < keep.size(); ++i) {
    if (keep[i]) values[to++] = std::move(values[i]);
  }
  values.resize(to);
}

}  // namespace

Merger::Merger(const Header& header, std::vector<LineRange> turned, const plan::ChannelMap& map,
               const FigureMaker& figures)
    : header_(header),
      turned_(std::move(turned)),
      figures_(figures),
      long_form_(map.long_form),
      holds_(map.logging == plan::Logging::on_change || map.long_form),
      timeline_(map, [this](Event event) { emit(std::move(event)); }),
      spread_([this](Event event) { emit(std::move(event)); }),
      open_(header.channels.size()),
      text_(header.channels.size()),
      held_(header.channels.size(), {nan_value, 0, 0, false}),
      resolution_(header.channels.size()) {
  if (map.long_form && map.logging == plan::Logging::periodic) {
    hold_ns_ = 1;
    double longest_s = map.period ? map.period->value() : 0;
    for (const auto& step : map.step_periods) longest_s = std::max(longest_s, step.period.value());
    hold_ns_ = std::max<std::int64_t>(1, static_cast<std::int64_t>(std::min(longest_s, 1e7) * 1.5e9));
  }
  siblings_.resize(header.channels.size());
  for (std::size_t c = 0; c < header.channels.size(); ++c) {
    const ChannelInfo& info = header.channels[c];
    stuck_.emplace_back(info.channel.what);
    if (info.text) continue;
    for (std::size_t other = 0; other < header.channels.size(); ++other) {
      const ChannelInfo& sibling = header.channels[other];
      if (other != c && !sibling.text && sibling.channel.device == info.channel.device)
        siblings_[c].push_back(other);
    }
  }
}

bool Merger::is_sparse() const {
  std::size_t filled_channels = 0, sparse = 0;
  for (std::size_t c = 0; c < header_.channels.size(); ++c) {
    const Empty empty = c < empty_.size() ? empty_[c] : Empty{};
    if (header_.channels[c].text || empty.cells >= tally_.rows) continue;
    const std::uint64_t filled = tally_.rows - empty.cells;
    ++filled_channels;
    sparse += 2 * empty.cells >= filled && 4 * empty.runs >= filled ? 1U : 0U;
  }
  return filled_channels > 0 && 2 * sparse >= filled_channels;
}

void Merger::count(const Event& event) {
  constexpr std::size_t most_kept = 20;
  const auto kind = static_cast<std::size_t>(event.what);
  tally_.count[kind] += event.count;
  if (event.what == Oddity::missing_cell && event.channel >= 0) {
    empty_.resize(header_.channels.size());
    Empty& empty = empty_[static_cast<std::size_t>(event.channel)];
    empty.cells += event.count;
    ++empty.runs;
  }
  if (kept_[kind] >= most_kept) return;
  ++kept_[kind];
  tally_.first.push_back(event);
  if (event.channel >= 0) {
    tally_.first.back().about = header_.channels[static_cast<std::size_t>(event.channel)].channel.name();
  }
}

// Where a line stands in the file itself, of those counted as they come.
std::uint64_t Merger::line_in_file(std::uint64_t line, int file) const {
  const LineRange& turned = turned_[static_cast<std::size_t>(file)];
  return line < turned.first || line > turned.last ? line : turned.first + (turned.last - line);
}

void Merger::emit(Event event) {
  const std::uint64_t one = line_in_file(event.line, event.file);
  const std::uint64_t other = line_in_file(event.last_line, event.file);
  event.line = std::min(one, other);
  event.last_line = std::max(one, other);
  count(event);
  events_.push_back(std::move(event));
}

// Runs of rows go on from slab to slab when the last one reached its end.
void Merger::row_events(const Parsed& parsed) {
  for (const RowOddity& odd : parsed.rows) {
    const std::size_t row = std::min(odd.row, parsed.block.time.empty() ? 0 : parsed.block.time.size() - 1);
    const Instant at = parsed.block.time.empty() ? timeline_.end() : parsed.block.time[row];
    Event event{odd.what,
                file_,
                lines_before_ + 1 + odd.line,
                lines_before_ + 1 + odd.last_line,
                odd.count,
                -1,
                at,
                at,
                odd.detail};
    if (open_row_ && open_row_->what == event.what && open_row_->file == file_ &&
        open_row_->last_line + 1 >= event.line) {
      open_row_->last_line = event.last_line;
      open_row_->to = event.to;
      open_row_->count += event.count;
      event = *std::exchange(open_row_, std::nullopt);
    }
    if (odd.last_line + 1 >= parsed.lines && !open_row_) {
      open_row_ = std::move(event);
    } else {
      emit(std::move(event));
    }
  }
  if (open_row_ && open_row_->last_line < lines_before_ + parsed.lines) {
    emit(*std::exchange(open_row_, std::nullopt));
  }
}

void Merger::cell_events(const Parsed& parsed) {
  std::vector<bool> went_on(open_.size(), false);
  for (const CellOddity& odd : parsed.cells) {
    const auto c = static_cast<std::size_t>(odd.channel);
    Event event{odd.what,
                file_,
                lines_before_ + 1 + parsed.block.line[odd.row],
                lines_before_ + 1 + parsed.block.line[odd.last_row],
                odd.last_row - odd.row + 1,
                odd.channel,
                parsed.block.time[odd.row],
                parsed.block.time[odd.last_row],
                odd.detail};
    if (odd.row == 0 && open_[c] && open_[c]->what == odd.what && open_[c]->file == file_) {
      open_[c]->last_line = event.last_line;
      open_[c]->to = event.to;
      open_[c]->count += event.count;
      event = *std::exchange(open_[c], std::nullopt);
    }
    if (open_[c] && !went_on[c]) emit(*std::exchange(open_[c], std::nullopt));
    if (odd.last_row + 1 == parsed.block.time.size()) {
      open_[c] = std::move(event);
      went_on[c] = true;
    } else {
      emit(std::move(event));
    }
  }
  if (parsed.block.time.empty()) return;
  for (std::size_t c = 0; c < open_.size(); ++c) {
    if (open_[c] && !went_on[c]) emit(*std::exchange(open_[c], std::nullopt));
  }
}

void Merger::drop_rows(Parsed& parsed, const std::vector<bool>& keep,
                       std::vector<std::size_t>& breaks) const {
  if (std::find(keep.begin(), keep.end(), false) == keep.end()) return;
  std::vector<std::size_t> new_row(keep.size() + 1, 0);
  for (std::size_t i = 0; i < keep.size(); ++i) new_row[i + 1] = new_row[i] + (keep[i] ? 1 : 0);
  keep_only(parsed.block.time, keep);
  keep_only(parsed.block.line, keep);
  for (auto& column : parsed.block.values) keep_only(column, keep);
  for (auto& digits : parsed.digits) digits.clear();  // their pieces no longer fit the rows
  for (std::size_t c = 0; c < parsed.block.values.size(); ++c)
    mark_same(kernels(InstructionSet::best), parsed.block.values[c], parsed.same[c]);
  for (auto& changes : parsed.block.texts) {
    for (TextChange& change : changes) change.row = new_row[change.row];
    std::vector<TextChange> kept;
    for (TextChange& change : changes) {
      if (!kept.empty() && kept.back().row == change.row) kept.pop_back();
      if (change.row < parsed.block.time.size()) kept.push_back(std::move(change));
    }
    changes = std::move(kept);
  }
  for (std::size_t& row : breaks) row = new_row[row];
}

// "As before": the last value stands; in a periodic long log for no longer than its channel's own
// usual distance (or the stated period) and a half.
void Merger::hold_values(Parsed& parsed) {
  if (!holds_) return;
  for (std::size_t c = 0; c < parsed.block.values.size(); ++c) {
    Held& held = held_[c];
    for (std::size_t i = 0; i < parsed.block.values[c].size(); ++i) {
      double& value = parsed.block.values[c][i];
      const std::int64_t ns = parsed.block.time[i].ns;
      if (!is_unset(value)) {
        held.distance_ns = ns - held.at_ns;
        held.at_ns = ns;
        held.any = true;
        held.value = value;
      } else {
        const std::int64_t usual = std::min(held.distance_ns, year_ns);
        const std::int64_t longest = hold_ns_ > 1 ? hold_ns_ : usual + usual / 2;
        value = hold_ns_ == 0 || ns - held.at_ns <= longest ? held.value : nan_value;
      }
    }
  }
}

std::vector<std::size_t> Merger::never_named() const {
  std::vector<std::size_t> out;
  for (std::size_t c = 0; long_form_ && c < header_.channels.size(); ++c) {
    const bool named = header_.channels[c].text ? text_[c].has_value() && !text_[c]->empty() : held_[c].any;
    if (!named) out.push_back(c);
  }
  return out;
}

void Merger::settle_texts(Parsed& parsed) {
  for (std::size_t c = 0; c < parsed.block.texts.size(); ++c) {
    if (!header_.channels[c].text) continue;
    auto& changes = parsed.block.texts[c];
    const bool first_row_said = !changes.empty() && changes.front().row == 0;
    if (!text_[c] && !first_row_said && !parsed.block.time.empty()) changes.insert(changes.begin(), {0, ""});
    std::vector<TextChange> kept;
    for (TextChange& change : changes) {
      if (text_[c] == change.text) continue;
      text_[c] = change.text;
      kept.push_back(std::move(change));
    }
    changes = std::move(kept);
  }
}

void Merger::watch(const Parsed& parsed) {
  if (holds_) return;
  const auto emit_one = [this](Event event) { emit(std::move(event)); };
  const auto rows_of = [&](std::size_t c) {
    return WatchedRows{parsed.block.values[c], parsed.same[c], parsed.block.time,
                       parsed.block.line,      file_,          static_cast<int>(c)};
  };
  // Before any channel looks at the slab: how those of one device enter it.
  std::vector<std::vector<Stillness>> devices(parsed.block.values.size());
  for (std::size_t c = 0; c < parsed.block.values.size(); ++c) {
    for (const std::size_t other : siblings_[c]) devices[c].push_back(stuck_[other].enters(rows_of(other)));
  }
  for (std::size_t c = 0; c < parsed.block.values.size(); ++c) {
    if (header_.channels[c].text) continue;
    stuck_[c].look(rows_of(c), devices[c], emit_one);
    resolution_[c].look(rows_of(c), parsed.digits[c], emit_one);
  }
}

void Merger::finish() {
  timeline_.finish();
  spread_.finish();
  for (StuckWatch& stuck : stuck_) stuck.finish([this](Event event) { emit(std::move(event)); });
  for (auto& event : open_) {
    if (event) emit(*std::exchange(event, std::nullopt));
  }
  if (open_row_) emit(*std::exchange(open_row_, std::nullopt));
}

void Merger::merge(const SlabPlace& place, Parsed& parsed, const Parsed* ahead) {
  Block& block = parsed.block;
  const bool further_file = place.first && place.file > 0;
  if (place.first) lines_before_ = place.lines_before;
  if (further_file) {
    for (auto& event : open_) {
      if (event) emit(*std::exchange(event, std::nullopt));
    }
    if (open_row_) emit(*std::exchange(open_row_, std::nullopt));
  }
  file_ = place.file;
  std::vector<bool> keep;
  const std::int64_t offset_before_ns = timeline_.offset_ns();
  timeline_.walk({file_, lines_before_, further_file, ahead}, parsed, keep, block.breaks);
  row_events(parsed);
  cell_events(parsed);
  if (parsed.stopped && stopped_at_ == 0)
    stopped_at_ = line_in_file(lines_before_ + 1 + parsed.rows.back().line, file_);
  const bool dated_anew =
      !holds_ && spread_.walk({file_, lines_before_, timeline_.offset_ns(), ahead}, parsed, keep);
  block.shared_stamp_ns = dated_anew ? spread_.unit_ns() : 0;
  drop_rows(parsed, keep, block.breaks);
  hold_values(parsed);
  settle_texts(parsed);
  for (std::uint64_t& line : parsed.block.line) line += lines_before_ + 1;
  watch(parsed);
  for (std::uint64_t& line : block.line) line = line_in_file(line, file_);
  // The parser took all rows as they stood.
  const bool as_parsed = !dated_anew && timeline_.offset_ns() == offset_before_ns &&
                         block.rows() == keep.size() && !holds_ && parsed.twice.empty() &&
                         (block.breaks.empty() || block.breaks.back() == 0);
  if (!as_parsed) figures_.make(block, seconds_);
  if (ahead == nullptr) finish();

  lines_before_ += parsed.lines;
  tally_.rows += parsed.block.time.size();
  tally_.lines += parsed.lines + (place.first ? place.lines_before : 0);
  tally_.bytes += place.file_bytes;
  for (const std::string& name : parsed.unmapped) {
    auto& names = tally_.unmapped;
    if (names.size() < most_unmapped && std::find(names.begin(), names.end(), name) == names.end())
      names.push_back(name);
  }
  tally_.start = timeline_.start().value_or(Instant{});
  tally_.end = timeline_.end();
  if (ahead == nullptr) {
    tally_.period = timeline_.period();
    // Most rows share a stamp.
    if (!(tally_.period.value() > 0))
      tally_.period = Duration::from_value(static_cast<double>(spread_.distance_ns()) / 1e9);
  }
  std::stable_sort(events_.begin(), events_.end(), [](const Event& a, const Event& b) {
    return a.file != b.file ? a.file < b.file : a.line < b.line;
  });
  block.file = file_;
  std::swap(block.events, events_);
  events_.clear();
}

}  // namespace vacuary::log
