// Holes of the film of one sort: the first few to be told one by one, all to be told as one.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "run/film.hpp"

namespace vacuary::run {

struct HoleTally {
  static constexpr std::size_t told_alone = 3;  // more are told as one

  std::size_t count = 0, unread = 0;
  double film_m = 0, low_m = 0, high_m = 0, standard_m = 0, longest_s = 0;
  bool by_counter = true, bounded = false;
  std::vector<FilmGap> each;  // the first of them

  void add(const FilmGap& hole) {
    ++count;
    if (each.size() < told_alone) each.push_back(hole);
    last_ = hole.end;
    unread += hole.unread;
    film_m += hole.film_m;
    low_m += hole.low_m;
    high_m += hole.high_m;
    // As in the film: see FilmMeter::close_hole.
    standard_m = hole.by_counter ? std::hypot(standard_m, hole.standard_m) : standard_m + hole.standard_m;
    longest_s = greater(longest_s, hole.longest_s());
    by_counter = by_counter && hole.by_counter;
    bounded = bounded || hole.bounded_s > 0;
  }
  [[nodiscard]] bool many() const { return count > told_alone; }
  [[nodiscard]] const Moment& start() const { return each.front().start; }
  [[nodiscard]] const Moment& end() const { return last_; }

 private:
  Moment last_;
};

}  // namespace vacuary::run
