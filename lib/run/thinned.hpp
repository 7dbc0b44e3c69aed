// A stretch of a channel in bounded memory: means of as many neighbouring rows as it takes.
#pragma once

#include <vector>

#include "run/sums.hpp"

namespace vacuary::run {

class Thinned {
 public:
  struct Point {
    double t_s, value;
  };
  void add(double t_s, double value) {
    t_.add(t_s);
    value_.add(value);
    if (++in_hand_ < rows_a_point_) return;
    const auto n = static_cast<double>(in_hand_);
    points_.push_back({t_.value() / n, value_.value() / n});
    t_ = value_ = Sum{};
    in_hand_ = 0;
    if (points_.size() < most) return;
    for (std::size_t i = 0; 2 * i + 1 < points_.size(); ++i) {
      const Point &a = points_[2 * i], &b = points_[2 * i + 1];
      points_[i] = {(a.t_s + b.t_s) / 2, (a.value + b.value) / 2};
    }
    points_.resize(points_.size() / 2);
    rows_a_point_ *= 2;
  }
  // What is in hand of an unfinished mean is left out.
  [[nodiscard]] const std::vector<Point>& points() const { return points_; }

 private:
  static constexpr std::size_t most = 256;
  std::vector<Point> points_;
  Sum t_, value_;
  std::size_t in_hand_ = 0, rows_a_point_ = 1;
};

}  // namespace vacuary::run
