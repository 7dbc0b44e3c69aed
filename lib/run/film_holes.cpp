// Film where rows are missing or do not say what it hangs on.
#include <algorithm>
#include <cmath>

#include "run/film.hpp"

namespace vacuary::run {

Hole::At FilmMeter::in_hole(const Moment& moment) {
  Hole::At at;
  at.time = moment.time;
  at.power_w = moment.power_w;
  at.open = moment.open;
  at.pressure_pa = moment.pressure_pa;
  return at;
}

void FilmMeter::into_hole(const Row& row, bool outside) {
  if (!hole_.open()) {
    Hole::At before = in_hole(row.before());
    if (anchored_ && std::isnan(before.power_w * before.open)) {
      hole_.begin(anchor_);
      before.outside = true;
      hole_.add(before);
    } else {
      hole_.begin(before);
    }
    hole_start_ = row.before();
    hole_sums_ = &owner(row);
    hole_count_j_ = base_count_j_;
    hole_misses_ = hole_behind_lost_ = behind_film_ = false;
  }
  if (row.gap) {
    hole_misses_ = true;
    hole_behind_lost_ = hole_behind_lost_ || row.lost;
    hole_behind_ = row;
  }
  Hole::At at = in_hole(row);
  at.missing = row.gap;
  at.outside = outside;
  at.way = way();
  hole_.add(at);
  hole_end_ = row;
}

Hole::Device FilmMeter::device_in_hole() const {
  Hole::Device device;
  device.rated_w = rated_w_;
  device.power_usual_s = greater(power_rhythm_.usual_s(), hole_end_.period_s);
  device.shutter_usual_s = greater(shutter_rhythm_.usual_s(), hole_end_.period_s);
  device.lost = hole_behind_lost_;
  const double counted_j = hole_end_.counter_j - hole_count_j_;
  if (!(counted_j >= 0)) return device;
  device.counted_j = counted_j;
  device.count_slack_j = most_stood_j_;
  // Where stamps are as coarse as rows are apart, a row more or less between two is their rounding: the rows
  // before took longer or less than their stamps say, and the counter knows better than any of them.
  const Moment& end = hole_end_;
  const double lasted_s = seconds(hole_start_.time, end.time);
  device.rounded = !device.lost && hole_misses_ && end.stamp_s > 0.4 * end.period_s &&
                   lasted_s < end.period_s + 1.5 * end.stamp_s;
  if (device.rounded) {
    const double most_j = 3 * end.stamp_s * rated_w_;
    device.counted_j = greater(0.0, counted_j + std::clamp(ahead_j_, -most_j, most_j));
  }
  return device;
}

void FilmMeter::close_hole() {
  FilmSums& sums = *hole_sums_;
  const Hole::Laid laid = hole_.lay(device_in_hole(), hole_end_.hold);
  const bool known = !std::isnan(hole_start_.kappa_m_j);
  const double kappa = known ? 0.5 * (hole_start_.kappa_m_j + hole_end_.kappa_m_j)
                             : hole_end_.kappa_m_j;  // never lost once known
  const double film_m = laid.sum_j * kappa;
  const bool lit = hole_end_.power_w > lit_w_;
  if (laid.sum_j > 0) weigh(lit ? hole_end_ : hole_start_, lit, sums, laid.sum_j, film_m);
  double turned_rad = 0, pressure_pa = hole_start_.pressure_pa;
  for (std::size_t k = 1; k < hole_.rows().size(); ++k) {
    const Hole::At& row = hole_.rows()[k];
    if (row.outside) continue;
    turned_rad += std::abs(row.way.to_rad - row.way.from_rad);
    if (!std::isnan(row.pressure_pa)) pressure_pa = row.pressure_pa;
    if (!(laid.energy_j[k] > 0) && &sums == &stray_) continue;
    FilmPiece piece = piece_of(sums, laid.energy_j[k] * kappa, pressure_pa);
    piece.start = hole_.rows()[k - 1].time;
    piece.end = row.time;
    piece.from_rad = row.way.from_rad;
    piece.to_rad = row.way.to_rad;
    place(piece, row.way);
  }
  if (laid.sum_j > 0) {
    count_turning(sums, turned_rad);
  } else if (sums.energy.value() > 0) {
    sums.way_since_film_rad += turned_rad;
  }
  sums.sampling_variance.add(laid.edges_j2 * kappa * kappa);
  // What a counter leaves open of one hole is nothing to the next; what anything may have happened in is
  // unknown alike in all: such holes add up, not their squares.
  const double standard_m = laid.standard_j() * kappa;
  if (laid.by_counter) {
    sums.gap_variance.add(standard_m * standard_m);
  } else {
    sums.gap_alike.add(standard_m);
  }
  FilmGap gap;
  gap.start = hole_start_;
  gap.end = hole_end_;
  gap.missing = hole_misses_;
  if (hole_misses_) gap.behind = hole_behind_;
  gap.unread = hole_.unread();
  gap.shutter = laid.shutter;
  gap.film_m = film_m;
  gap.low_m = laid.low_j * kappa;
  gap.high_m = laid.high_j * kappa;
  gap.standard_m = standard_m;
  gap.energy_j = laid.sum_j;
  gap.bounded_s = laid.bounded_s;
  gap.by_counter = laid.by_counter;
  closed_.push_back(gap);
  used_[static_cast<std::size_t>(cathode_index())].add(laid.supplied_j);
  count(hole_end_, sums, laid.supplied_j, laid.open && (laid.by_counter || laid.bounded_s == 0));
  base_count_j_ = std::isnan(hole_end_.counter_j) ? hole_count_j_ + laid.supplied_j : hole_end_.counter_j;
  ahead_j_ = 0;
  stood_j_ = 0;
  hole_.clear();
}

// A hole that was in the film when its step ended: what is read shortly behind it says how it ended.
void FilmMeter::follow_hole(const Row& row) {
  if (!behind_film_) film_end_ = hole_end_.time;
  behind_film_ = true;
  into_hole(row, true);
  const bool lost =
      seconds(film_end_, row.time) >
      greater(Hole::brief_shutter_s, greater(power_rhythm_.usual_s(), shutter_rhythm_.usual_s()));
  if (lost || !std::isnan(row.power_w * row.open)) close_hole();
}

}  // namespace vacuary::run
