#include "log/weave.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <utility>

#include "log/stamp.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t rows_of_block = 1024;
constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

template <class T>
std::size_t place_of(std::vector<T>& all, const T& one) {
  const auto found = std::find(all.begin(), all.end(), one);
  if (found != all.end()) return static_cast<std::size_t>(found - all.begin());
  all.push_back(one);
  return all.size() - 1;
}

void join(std::vector<std::string>& all, const std::vector<std::string>& more) {
  for (const std::string& one : more) place_of(all, one);
}

bool by_place(const Event& a, const Event& b) { return a.file != b.file ? a.file < b.file : a.line < b.line; }

}  // namespace

Header Weaver::join(std::vector<Line>& lines) {
  Header out;
  for (Line& line : lines) {
    const Header& header = line.strand->header();
    for (const std::string& file : header.files)
      line.file.push_back(static_cast<int>(place_of(out.files, file)));
    for (const ChannelInfo& info : header.channels) {
      line.channel.push_back(out.channels.size());
      out.channels.push_back(info);
    }
    log::join(out.unmapped, header.unmapped);
    line.next_text.resize(header.channels.size());
    line.held.resize(header.channels.size(), nan_value);
  }
  out.file = out.files.front();
  return out;
}

Weaver::Weaver(std::vector<std::unique_ptr<Strand>> strands, const plan::ChannelMap& map,
               const Options& options)
    : lines_([&strands] {
        std::vector<Line> lines(strands.size());
        for (std::size_t i = 0; i < strands.size(); ++i) lines[i].strand = std::move(strands[i]);
        return lines;
      }()),
      header_(join(lines_)),
      figures_(header_, options),
      on_change_(map.logging == plan::Logging::on_change) {}

Event Weaver::renamed(const Line& line, Event event) const {
  event.file = line.file[static_cast<std::size_t>(event.file)];
  if (event.channel >= 0)
    event.channel = static_cast<int>(line.channel[static_cast<std::size_t>(event.channel)]);
  return event;
}

void Weaver::take_events(Line& line) {
  for (const Event& event : line.block->events) block_.events.push_back(renamed(line, event));
}

// Goes on to a block with a row; its events are handed out with the rows it ends with.
void Weaver::load(Line& line) {
  while (line.block == nullptr || line.row == line.block->rows()) {
    if (line.block != nullptr) take_events(line);
    line.block = line.strand->next();
    line.row = 0;
    line.next_break = 0;
    std::fill(line.next_text.begin(), line.next_text.end(), std::size_t{0});
    if (line.block == nullptr) return;
  }
}

// Before a strand begins and after it has ended its channels are missing, and no gap of its own says so.
void Weaver::tell_unsaid(const Line& line, std::uint64_t at_line, Instant to, const std::string& how) {
  if (line.unsaid == 0) return;
  for (const std::size_t c : line.channel) {
    if (header_.channels[c].text) continue;
    Event event{Oddity::missing_cell, line.file.back(), at_line, at_line, line.unsaid,
                static_cast<int>(c),  line.unsaid_from, to,      how};
    const auto kind = static_cast<std::size_t>(event.what);
    tally_.count[kind] += event.count;
    block_.events.push_back(event);
    event.about = header_.channels[c].channel.name();
    tally_.first.push_back(std::move(event));
  }
}

// Something is missing before the strand's next row.
bool Weaver::is_broken(const Line& line) {
  const std::vector<std::size_t>& breaks = line.block->breaks;
  return line.next_break < breaks.size() && breaks[line.next_break] == line.row;
}

void Weaver::take_row(Line& line, std::size_t to) {
  const Block& block = *line.block;
  const Instant time = block.time[line.row];
  if (line.unsaid > 0) {
    tell_unsaid(
        line, block.line[line.row], time,
        fmt::format("its log begins {} after the others", say_seconds(time.ns - line.unsaid_from.ns)));
    line.unsaid = 0;
  }
  line.distance_ns = line.begun ? time.ns - line.at_ns : 0;
  line.at_ns = time.ns;
  line.begun = true;
  line.last_line = block.line[line.row];
  for (std::size_t c = 0; c < line.channel.size(); ++c) {
    const std::size_t woven = line.channel[c];
    if (!header_.channels[woven].text) {
      line.held[c] = block.values[c][line.row];
      block_.values[woven].push_back(line.held[c]);
      continue;
    }
    std::size_t& next = line.next_text[c];
    for (; next < block.texts[c].size() && block.texts[c][next].row == line.row; ++next)
      block_.texts[woven].push_back({to, block.texts[c][next].text});
  }
  if (is_broken(line)) {
    ++line.next_break;
    if (block_.breaks.empty() || block_.breaks.back() != to) block_.breaks.push_back(to);
  }
  ++line.row;
}

void Weaver::fill_row(Line& line, Instant time) {
  const std::int64_t distance = std::min(line.distance_ns, year_ns);
  const bool goes_on = line.block != nullptr && !is_broken(line);
  const bool stands =
      line.begun && (on_change_ || goes_on || time.ns - line.at_ns <= distance + distance / 2);
  if (!stands && (!line.begun || line.block == nullptr) && line.unsaid++ == 0) line.unsaid_from = time;
  for (std::size_t c = 0; c < line.channel.size(); ++c) {
    const std::size_t woven = line.channel[c];
    if (!header_.channels[woven].text) block_.values[woven].push_back(stands ? line.held[c] : nan_value);
  }
}

// The last one, at its start the next one.
std::int64_t Weaver::distance_ns(const Line& line) {
  const std::vector<Instant>& time = line.block->time;
  if (line.distance_ns > 0) return line.distance_ns;
  if (line.begun) return time[line.row].ns - line.at_ns;
  return line.row + 1 < time.size() ? time[line.row + 1].ns - time[line.row].ns : 0;
}

// How far apart the next rows of two strands may be to be one: loggers that scan together stamp a little
// apart. Those that come back from a gap are one even if a whole distance apart, so that nothing that bridges
// the gap, such as a counter, is cut off from what it bridges.
std::int64_t Weaver::reach_ns(const Line& line) {
  constexpr std::int64_t longest_scan_ns = 250'000'000;
  return is_broken(line) ? distance_ns(line) : std::min(distance_ns(line) / 4, longest_scan_ns);
}

// The stamp of the next row: the earliest, or the last of those that are one row with it.
std::optional<Instant> Weaver::next_time() const {
  std::optional<Instant> earliest;
  for (const Line& line : lines_) {
    if (line.block != nullptr && (!earliest || line.block->time[line.row] < *earliest))
      earliest = line.block->time[line.row];
  }
  if (!earliest) return std::nullopt;
  Instant latest = *earliest;
  for (const Line& line : lines_) {
    if (line.block == nullptr) continue;
    const Instant time = line.block->time[line.row];
    if (time.ns - earliest->ns <= reach_ns(line)) latest = std::max(latest, time);
  }
  // No row is moved further than that, and none is left out.
  const auto may_move = [latest](const Line& line) {
    if (line.block == nullptr || line.block->time[line.row] >= latest) return true;
    const std::vector<Instant>& time = line.block->time;
    const bool alone = line.row + 1 == time.size() || time[line.row + 1] > latest;
    return alone && latest.ns - time[line.row].ns <= reach_ns(line);
  };
  return std::all_of(lines_.begin(), lines_.end(), may_move) ? latest : *earliest;
}

void Weaver::add_row(Instant time) {
  const std::size_t to = block_.rows();
  block_.time.push_back(time);
  bool lined = false;
  for (Line& line : lines_) {
    const bool has = line.block != nullptr && line.block->time[line.row] <= time;
    if (has && !lined) {
      lined = true;
      block_.line.push_back(line.block->line[line.row]);
      block_.file = line.file[static_cast<std::size_t>(line.block->file_of(line.row))];
      block_.files.push_back(block_.file);
    }
    if (tally_.rows == 0 && !has) {
      for (const std::size_t c : line.channel) {
        if (header_.channels[c].text) block_.texts[c].push_back({to, ""});
      }
    }
    if (has) {
      take_row(line, to);
    } else {
      fill_row(line, time);
    }
  }
  end_ = time;
  ++tally_.rows;
}

void Weaver::clear() {
  block_.time.clear();
  block_.line.clear();
  block_.files.clear();
  block_.values.resize(header_.channels.size());
  block_.texts.resize(header_.channels.size());
  for (auto& values : block_.values) values.clear();
  for (auto& texts : block_.texts) texts.clear();
  block_.events.clear();
  block_.breaks.clear();
}

void Weaver::finish() {
  constexpr std::size_t most_kept = 20;
  finished_ = true;
  const std::uint64_t rows = std::exchange(tally_.rows, 0);
  std::vector<std::string> files;
  for (const Line& line : lines_) {
    tell_unsaid(line, std::max<std::uint64_t>(1, line.last_line), end_,
                line.begun
                    ? fmt::format("its log ends {} before the others", say_seconds(end_.ns - line.at_ns))
                    : "its log has no row that could be read");
    const Tally& one = line.strand->tally();
    for (std::size_t i = 0; i < one.count.size(); ++i) tally_.count[i] += one.count[i];
    for (const Event& event : one.first) tally_.first.push_back(renamed(line, event));
    // Columns with stamps of their own: all strands are of one file.
    if (files != line.strand->header().files) {
      tally_.lines += one.lines;
      tally_.bytes += one.bytes;
    }
    files = line.strand->header().files;
    for (const Diagnostic& d : line.strand->diagnostics()) diagnostics_.push_back(d);
    if (one.rows == 0) continue;
    tally_.start = tally_.rows == 0 ? one.start : std::min(tally_.start, one.start);
    tally_.end = tally_.rows == 0 ? one.end : std::max(tally_.end, one.end);
    tally_.period = std::max(tally_.period, one.period);
    tally_.rows += one.rows;
    log::join(tally_.unmapped, one.unmapped);
  }
  tally_.rows = rows;
  std::stable_sort(tally_.first.begin(), tally_.first.end(), by_place);
  std::array<std::size_t, static_cast<std::size_t>(Oddity::count_)> kept{};
  std::erase_if(tally_.first, [&kept](const Event& event) {
    return kept[static_cast<std::size_t>(event.what)]++ >= most_kept;
  });
}

const Block* Weaver::next() {
  if (finished_) return nullptr;
  clear();
  if (!std::exchange(started_, true)) {
    for (Line& line : lines_) load(line);
  }
  while (block_.rows() < rows_of_block) {
    const auto time = next_time();
    if (!time) break;
    add_row(*time);
    for (Line& line : lines_) {
      if (line.block != nullptr) load(line);
    }
  }
  if (block_.rows() < rows_of_block) finish();
  std::stable_sort(block_.events.begin(), block_.events.end(), by_place);
  figures_.make(block_, seconds_);
  return &block_;
}

}  // namespace vacuary::log
