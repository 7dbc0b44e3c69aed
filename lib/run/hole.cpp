#include "run/hole.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace vacuary::run {
namespace {

constexpr double clearly_more = 1.25;  // by power than counted: no rounding of either
constexpr double late = 1.5;           // times its usual distance: a reading is missing

// One device's readings through a hole.
struct Line {
  std::vector<double> value;  // as read, else by the straight line
  std::vector<char> bounded;  // of the interval before each row
  // Ends of the silence that an interval is in, if it is: where nothing was read the nearest that was.
  std::vector<double> from, to;
  std::vector<std::pair<std::size_t, std::size_t>> brief;
};

Line line_through(const std::vector<Hole::At>& rows, double Hole::At::*reading, double brief_s, bool hold) {
  const std::size_t size = rows.size();
  Line line;
  for (const Hole::At& row : rows) line.value.push_back(row.*reading);
  line.bounded.assign(size, 0);
  line.from.assign(size, no_value);
  line.to.assign(size, no_value);
  std::size_t last = size;  // none
  for (std::size_t j = 0; j <= size; ++j) {
    if (j < size && std::isnan(line.value[j])) continue;
    const bool first = last == size, end = j == size;
    const std::size_t begin = first ? 0 : last;
    const std::size_t stop = end ? size - 1 : j;
    if (!first || stop > 0) {
      const double before = first ? (end ? 0 : line.value[j]) : line.value[last];
      const double after = end || (hold && !first) ? before : line.value[j];
      const double lasted_s = seconds(rows[begin].time, rows[stop].time);
      const bool silent = first || end || stop > begin + 1 || rows[stop].missing;
      const bool brief = !first && !end && lasted_s <= brief_s;
      for (std::size_t k = begin + 1; silent && k <= stop; ++k) {
        line.bounded[k] = !brief;
        line.from[k] = before;
        line.to[k] = !end    ? line.value[j]
                     : first ? 1
                             : before;  // not seen at all: a shutter may have been open
      }
      for (std::size_t k = begin; k <= stop; ++k) {
        if (!std::isnan(line.value[k])) continue;
        line.value[k] = lasted_s > 0
                            ? before + (after - before) * seconds(rows[begin].time, rows[k].time) / lasted_s
                            : before;
      }
      if (silent && brief) line.brief.emplace_back(begin, stop);
    }
    last = j;
  }
  return line;
}

}  // namespace

double Hole::Laid::standard_j() const {
  const double above_j = high_j - sum_j, below_j = sum_j - low_j;
  if (!(above_j + below_j > 0)) return 0;
  return std::sqrt((std::pow(above_j, 3) + std::pow(below_j, 3)) / (3 * (above_j + below_j)));
}

void Hole::add(const At& row) {
  if (std::isnan(row.power_w * row.open) && !row.outside) ++unread_;
  if (!rows_.empty() && row.time.ns == rows_.back().time.ns) {
    // A second row of one stamp, which may say what the first did not.
    At& same = rows_.back();
    if (std::isnan(same.power_w)) same.power_w = row.power_w;
    if (std::isnan(same.open)) same.open = row.open;
    return;
  }
  if (rows_.size() == most_rows) {
    std::size_t kept = 1;
    for (std::size_t r = 2; r < rows_.size(); r += 2) {
      At joined = rows_[r];
      joined.way.from_rad = rows_[r - 1].way.from_rad;
      joined.way.moved_rad += rows_[r - 1].way.moved_rad;
      joined.way.expected_rad += rows_[r - 1].way.expected_rad;
      joined.missing = joined.missing || rows_[r - 1].missing;
      joined.outside = joined.outside && rows_[r - 1].outside;
      rows_[kept++] = joined;
    }
    if (rows_.size() % 2 == 0) rows_[kept++] = rows_.back();
    rows_.resize(kept);
  }
  rows_.push_back(row);
}

Hole::Laid Hole::lay(const Device& device, bool hold) const {
  const double brief_s =
      device.rounded || device.lost ? 0 : greater(brief_power_s, late * device.power_usual_s);
  const Line power = line_through(rows_, &At::power_w, brief_s, hold);
  const double brief_open_s = device.lost ? 0 : greater(brief_shutter_s, late * device.shutter_usual_s);
  const Line shutter = line_through(rows_, &At::open, brief_open_s, hold);
  Laid laid;
  laid.energy_j.assign(rows_.size(), 0);
  laid.shutter =
      std::none_of(rows_.begin(), rows_.end(), [](const At& row) { return std::isnan(row.power_w); });
  laid.open =
      std::all_of(shutter.value.begin(), shutter.value.end(), [](double open) { return open > 0.99; });
  const auto dt_s = [&](std::size_t k) { return seconds(rows_[k - 1].time, rows_[k].time); };
  const auto mean = [&](const Line& line, std::size_t k) {
    return hold ? line.value[k - 1] : 0.5 * (line.value[k - 1] + line.value[k]);
  };
  // What the counter says of the silent part.
  double read_j = 0, straight_j = 0, silent_s = 0;
  bool film_seen = false;
  for (std::size_t k = 1; k < rows_.size(); ++k) {
    const bool outside = rows_[k].outside, silent = power.bounded[k] != 0 && !outside;
    film_seen = film_seen || !outside;
    // The count begins with the film, and may go on behind it.
    if (film_seen) (silent ? straight_j : read_j) += mean(power, k) * dt_s(k);
    if (silent) silent_s += dt_s(k);
  }
  // A straight line to a row that comes late lays what the counter knows nothing of.
  const bool too_much = seconds(rows_.front().time, rows_.back().time) > brief_power_s &&
                        read_j > clearly_more * device.counted_j + device.count_slack_j;
  const double there = too_much ? device.counted_j / read_j : 1;
  const double counted_j = greater(0.0, device.counted_j - there * read_j);
  laid.by_counter = silent_s > 0 && device.counted_j >= 0;
  const double most_j = device.rated_w * silent_s;
  const double low_j = laid.by_counter ? greater(0.0, counted_j - device.count_slack_j) : 0;
  const double high_j =
      laid.by_counter ? greater(counted_j, lesser(counted_j + device.count_slack_j, most_j)) : most_j;
  for (std::size_t k = 1; k < rows_.size(); ++k) {
    if (rows_[k].outside) continue;
    double supplied_j = there * mean(power, k) * dt_s(k);
    double least_j = supplied_j, greatest_j = supplied_j;
    if (power.bounded[k] != 0) {
      const double part = dt_s(k) / silent_s;
      if (laid.by_counter)
        supplied_j = counted_j * (straight_j > 0 ? mean(power, k) * dt_s(k) / straight_j : part);
      least_j = low_j * part;
      greatest_j = high_j * part;
    }
    double open = mean(shutter, k), least_open = open, most_open = open;
    if (shutter.bounded[k] != 0) {
      // Rows that are there say that the logger ran and the shutter was not seen. Of rows that are missing,
      // one that was shut before and after is taken as shut.
      least_open = rows_[k].missing ? lesser(shutter.from[k], shutter.to[k]) : 0;
      most_open = rows_[k].missing ? greater(shutter.from[k], shutter.to[k]) : 1;
    }
    laid.energy_j[k] = supplied_j * open;
    laid.sum_j += supplied_j * open;
    laid.low_j += lesser(supplied_j * open, least_j * least_open);
    laid.high_j += greater(supplied_j * open, greatest_j * most_open);
    laid.supplied_j += supplied_j;
    if (power.bounded[k] != 0 || shutter.bounded[k] != 0) laid.bounded_s += dt_s(k);
  }
  // An edge somewhere in a brief silence: rectangular over it.
  const auto edge = [&](std::size_t from, std::size_t to) {
    const double edge_j = (power.value[to] * shutter.value[to] - power.value[from] * shutter.value[from]) *
                          seconds(rows_[from].time, rows_[to].time);
    laid.edges_j2 += edge_j * edge_j / 12;
  };
  for (const auto& [from, to] : power.brief) edge(from, to);
  for (const auto& one : shutter.brief) {
    if (std::find(power.brief.begin(), power.brief.end(), one) == power.brief.end())
      edge(one.first, one.second);
  }
  return laid;
}

void Rhythm::row(double dt_s, bool read) {
  since_s_ += dt_s;
  ++since_rows_;
  if (!read) return;
  const bool again = since_rows_ == usual_rows_ && since_rows_ > 1;
  same_ = again ? same_ + 1 : 1;
  usual_rows_ = since_rows_;
  usual_s_ = since_s_;
  since_s_ = 0;
  since_rows_ = 0;
}

}  // namespace vacuary::run
