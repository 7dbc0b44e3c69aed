// Sums that lose nothing, and the bounded store of a fit over hours.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

#include "run/log_line.hpp"

namespace vacuary::run {

inline constexpr double no_value = std::numeric_limits<double>::quiet_NaN();

// Compensated sum (Neumaier, Z. Angew. Math. Mech. 54, 39 (1974)).
class Sum {
 public:
  void add(double term) {
    const double next = sum_ + term;
    lost_ += std::abs(sum_) >= std::abs(term) ? (sum_ - next) + term : (term - next) + sum_;
    sum_ = next;
  }
  [[nodiscard]] double value() const { return sum_ + lost_; }

 private:
  double sum_ = 0;
  double lost_ = 0;
};

// What a straight line through points needs to know of them.
class LineSums {
 public:
  void add(double x, double y) {
    ++n_;
    x_.add(x);
    y_.add(y);
    xx_.add(x * x);
    xy_.add(x * y);
  }
  void add(const LineSums& other) {
    n_ += other.n_;
    x_.add(other.x_.value());
    y_.add(other.y_.value());
    xx_.add(other.xx_.value());
    xy_.add(other.xy_.value());
  }
  [[nodiscard]] std::uint64_t count() const { return n_; }
  [[nodiscard]] double mean_x() const { return x_.value() / static_cast<double>(n_); }
  [[nodiscard]] double mean_y() const { return y_.value() / static_cast<double>(n_); }
  // Slope of the least-squares line; not a number when the points do not span any x.
  [[nodiscard]] double slope() const {
    const auto n = static_cast<double>(n_);
    const double spread = xx_.value() - x_.value() * x_.value() / n;
    return n_ < 2 || spread <= 0 ? no_value : (xy_.value() - x_.value() * y_.value() / n) / spread;
  }

 private:
  std::uint64_t n_ = 0;
  Sum x_, y_, xx_, xy_;
};

// The last stretch of a channel, at most `size` points kept at least `spacing_s` apart.
class Recent {
 public:
  Recent(double span_s, std::size_t size) : span_s_(span_s), spacing_s_(span_s / static_cast<double>(size)) {}
  void add(double t_s, double value, LogLine line = {}) {
    if (!points_.empty() && t_s - points_.back().t_s < spacing_s_) return;
    points_.push_back({t_s, value, line});
    const auto old = [&](const Point& p) { return t_s - p.t_s > span_s_; };
    points_.erase(points_.begin(), std::find_if_not(points_.begin(), points_.end(), old));
  }
  void clear() { points_.clear(); }
  [[nodiscard]] std::size_t size() const { return points_.size(); }
  // Of the first point.
  [[nodiscard]] LogLine line() const { return points_.empty() ? LogLine{} : points_.front().line; }
  [[nodiscard]] double from_s() const { return points_.empty() ? 0 : points_.front().t_s; }
  [[nodiscard]] double span_s() const {
    return points_.empty() ? 0 : points_.back().t_s - points_.front().t_s;
  }
  [[nodiscard]] double slope_per_s() const {
    LineSums line;
    for (const Point& p : points_) line.add(p.t_s - points_.front().t_s, p.value);
    return line.slope();
  }
  // Standard error of that slope by the scatter about the line (independent points).
  [[nodiscard]] double slope_error_per_s() const {
    LineSums line;
    for (const Point& p : points_) line.add(p.t_s - points_.front().t_s, p.value);
    double scatter = 0;
    double spread = 0;
    for (const Point& p : points_) {
      const double x = p.t_s - points_.front().t_s - line.mean_x();
      const double off = p.value - line.mean_y() - line.slope() * x;
      scatter += off * off;
      spread += x * x;
    }
    return points_.size() < 3 ? no_value
                              : std::sqrt(scatter / static_cast<double>(points_.size() - 2) / spread);
  }

 private:
  struct Point {
    double t_s;
    double value;
    LogLine line;
  };
  double span_s_, spacing_s_;
  std::vector<Point> points_;
};

}  // namespace vacuary::run
