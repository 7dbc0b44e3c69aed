#include "record/trend.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "record/lines.hpp"

namespace vacuary::record {
namespace {

constexpr double ns_per_day = 86400e9;
constexpr double drift_evidence = 3;  // standard uncertainties

std::vector<double> values_of(const Trend& t) {
  std::vector<double> values;
  for (const Point& p : t.points) values.push_back(p.figure.value);
  return values;
}

Instant time_of(const Point& p) {
  Instant when;
  (void)from_rfc3339(p.started, when);  // undated points were left out
  return when;
}

std::vector<double> days_of(const Trend& t) {
  std::vector<double> days;
  const Instant first = time_of(t.points.front());
  for (const Point& p : t.points) days.push_back(static_cast<double>(time_of(p).ns - first.ns) / ns_per_day);
  return days;
}

void add_signal(Trend& t, std::size_t i, const char* chart, std::string words) {
  t.signals.push_back({t.points[i].entry, t.points[i].run, chart, std::move(words)});
}

// Signals of one chart: only the value that crosses speaks, not all that stay beyond.
void find_signals(Trend& t) {
  const std::vector<double> values = values_of(t);
  const auto beyond = [](double value, const Control& c) {
    return value > c.upper ? 1 : value < c.lower ? -1 : 0;
  };
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (const int side = beyond(values[i], t.single)) {
      add_signal(t, i, "single value",
                 fmt::format("{:.5g} {} is {} the limit {:.5g}", values[i], t.unit,
                             side > 0 ? "above" : "below", side > 0 ? t.single.upper : t.single.lower));
    }
    const int smooth = beyond(t.smoothed[i], t.smooth);
    if (smooth != 0 && (i == 0 || beyond(t.smoothed[i - 1], t.smooth) != smooth)) {
      add_signal(t, i, "EWMA",
                 fmt::format("the smoothed value {:.5g} {} has moved {} the usual", t.smoothed[i], t.unit,
                             smooth > 0 ? "above" : "below"));
    }
    for (const bool high : {true, false}) {
      const std::vector<double>& sums = high ? t.sums.high : t.sums.low;
      if (sums[i] > t.sum_limit && (i == 0 || sums[i - 1] <= t.sum_limit)) {
        add_signal(t, i, "CUSUM",
                   fmt::format("small shifts {} have added up to {:.3g} {}", high ? "upward" : "downward",
                               sums[i], t.unit));
      }
    }
  }
}

void find_drift(Trend& t, const std::vector<double>& days) {
  if (days.front() == days.back()) {
    t.drift = "the runs have no times that differ, so nothing can be said about a drift";
    return;
  }
  t.line = fit_line(days, values_of(t));
  const StraightLine& l = *t.line;
  constexpr double days_per_year = 365.25;
  t.drifting = std::abs(l.slope) > drift_evidence * l.u_slope;
  t.drift = fmt::format(
      "{}: {:+.3g} {} per year, expanded uncertainty {:.2g} (k = 2), over {} runs in {:.0f} days",
      t.drifting ? (l.slope > 0 ? "rising" : "falling") : "no drift that stands out from the scatter",
      l.slope * days_per_year, t.unit, 2 * l.u_slope * days_per_year, l.count, days.back());
}

// Where the fitted line meets the bound. The uncertainty is that of the line, to first order: a
// change of behaviour is not in it.
void look_ahead(Trend& t, double last, const std::optional<double>& bound) {
  if (!bound) return;
  if (!t.line || !t.drifting) {
    t.outlook =
        fmt::format("when {:.5g} {} is reached cannot be said: there is no clear drift", *bound, t.unit);
    return;
  }
  const StraightLine& l = *t.line;
  const double day = l.mean_x + (*bound - l.mean_y) / l.slope;
  if (day < last) {
    t.outlook = fmt::format(
        "{:.5g} {} is behind: the line met it {:.0f} days before the last run, or it moves away from it",
        *bound, t.unit, last - day);
    return;
  }
  const double distance = day - l.mean_x;
  const double u = l.residual * std::sqrt(1.0 / static_cast<double>(l.count) + distance * distance / l.sxx) /
                   std::abs(l.slope);
  constexpr double furthest_days = 36525;  // a century: beyond it a date says nothing
  if (day > furthest_days) {
    t.outlook = fmt::format("{:.5g} {} is more than a century away", *bound, t.unit);
    return;
  }
  const Instant first = time_of(t.points.front());
  t.forecast = Forecast{*bound, {first.ns + static_cast<std::int64_t>(day * ns_per_day)}, 2 * u};
  t.outlook = fmt::format(
      "{:.5g} {} is reached about {}, give or take {:.0f} days (k = 2), if things go on as they do", *bound,
      t.unit, to_rfc3339(t.forecast->when).substr(0, 10), std::max(1.0, 2 * u));
}

// Leaves out what does not fit into one chart, and says so.
template <class Unfit>
void leave_out(Trend& t, Diagnostics& said, const char* rule, const std::string& why, Unfit unfit) {
  const std::size_t before = t.points.size();
  t.points.erase(std::remove_if(t.points.begin(), t.points.end(), unfit), t.points.end());
  if (t.points.size() == before) return;
  said.push_back(file_fault(t.figure, rule,
                            fmt::format("{} runs {} and were left out", before - t.points.size(), why), ""));
  said.back().severity = Severity::warning;
}

Diagnostic unknown_figure(Index& index, const std::string& figure) {
  const Result<std::vector<std::string>> names = index.figure_names();
  const std::vector<std::string> known = names.has_value() ? names.value() : std::vector<std::string>{};
  const std::optional<std::string> near = nearest(figure, known);
  return file_fault(
      figure, "unknown-figure", "no archived run has a figure of this name",
      near ? fmt::format("did you mean {}?", *near) : fmt::format("known: {}", fmt::join(known, ", ")));
}

}  // namespace

Control individuals(const std::vector<double>& values) {
  constexpr double d2 = 1.128;  // mean range of two normal values over their standard deviation
  double ranges = 0;
  for (std::size_t i = 1; i < values.size(); ++i) ranges += std::abs(values[i] - values[i - 1]);
  Control c;
  c.centre = std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
  c.sigma = ranges / static_cast<double>(values.size() - 1) / d2;
  c.lower = c.centre - 3 * c.sigma;
  c.upper = c.centre + 3 * c.sigma;
  return c;
}

std::vector<double> ewma(const std::vector<double>& values, double lambda, double start) {
  std::vector<double> smoothed;
  for (const double value : values) {
    start = lambda * value + (1 - lambda) * start;
    smoothed.push_back(start);
  }
  return smoothed;
}

Control ewma_limits(double target, double sigma, double lambda, double width) {
  const double reach = width * sigma * std::sqrt(lambda / (2 - lambda));
  return {target, sigma, target - reach, target + reach};
}

Cusum cusum(const std::vector<double>& values, double target, double k) {
  Cusum sums;
  double high = 0, low = 0;
  for (const double value : values) {
    high = std::max(0.0, high + value - target - k);
    low = std::max(0.0, low + target - k - value);
    sums.high.push_back(high);
    sums.low.push_back(low);
  }
  return sums;
}

StraightLine fit_line(const std::vector<double>& x, const std::vector<double>& y) {
  StraightLine l;
  const auto n = static_cast<double>(x.size());
  l.count = x.size();
  l.mean_x = std::accumulate(x.begin(), x.end(), 0.0) / n;
  l.mean_y = std::accumulate(y.begin(), y.end(), 0.0) / n;
  double sxy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    l.sxx += (x[i] - l.mean_x) * (x[i] - l.mean_x);
    sxy += (x[i] - l.mean_x) * (y[i] - l.mean_y);
  }
  l.slope = sxy / l.sxx;
  l.intercept = l.mean_y - l.slope * l.mean_x;
  double squares = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double off = y[i] - l.mean_y - l.slope * (x[i] - l.mean_x);
    squares += off * off;
  }
  l.residual = std::sqrt(squares / (n - 2));
  l.u_slope = l.residual / std::sqrt(l.sxx);
  l.u_intercept = l.residual * std::sqrt(1 / n + l.mean_x * l.mean_x / l.sxx);
  return l;
}

Result<Trend> trend(Index& index, const TrendRequest& request) {
  Result<std::vector<Point>> series = index.series(request.figure, request.query);
  if (!series.has_value()) return series.diagnostics();
  Trend t;
  t.figure = request.figure;
  t.points = std::move(series).value();
  if (t.points.empty()) return unknown_figure(index, request.figure);
  Diagnostics said;
  leave_out(t, said, "undated-run", "do not say when their log starts", [](const Point& p) {
    Instant when;
    return !from_rfc3339(p.started, when);
  });
  if (!t.points.empty()) t.unit = t.points.back().figure.unit;
  leave_out(t, said, "other-unit", "state the figure in another unit than the newest",
            [&](const Point& p) { return p.figure.unit != t.unit; });
  // Time orders a trend; runs may have been archived in another order.
  std::stable_sort(t.points.begin(), t.points.end(),
                   [](const Point& a, const Point& b) { return a.started < b.started; });
  if (t.points.size() < 3) {
    return file_fault(request.figure, "too-few-runs",
                      fmt::format("a trend needs 3 runs with this figure, there are {}", t.points.size()),
                      "archive more runs, or ask for fewer restrictions");
  }
  const std::vector<double> values = values_of(t);
  const std::size_t base = std::clamp<std::size_t>(request.baseline, 3, values.size());
  t.single = individuals({values.begin(), values.begin() + static_cast<std::ptrdiff_t>(base)});
  t.smoothed = ewma(values, request.lambda, t.single.centre);
  t.smooth = ewma_limits(t.single.centre, t.single.sigma, request.lambda, request.width);
  t.sums = cusum(values, t.single.centre, request.k * t.single.sigma);
  t.sum_limit = request.h * t.single.sigma;
  find_signals(t);
  const std::vector<double> days = days_of(t);
  find_drift(t, days);
  look_ahead(t, days.back(), request.bound);
  return {std::move(t), std::move(said)};
}

}  // namespace vacuary::record
