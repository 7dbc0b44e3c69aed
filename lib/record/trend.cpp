#include "record/trend.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <set>
#include <string_view>

#include "record/lines.hpp"
#include "record/trend_words.hpp"

namespace vacuary::record {
namespace {

constexpr double ns_per_day = 86400e9;
constexpr double days_per_year = 365.25;
constexpr double drift_evidence = 1.5;  // times the 95 % interval: about 3 standard uncertainties

std::string day_text(Instant when) { return to_rfc3339(when).substr(0, 10); }

// Which values the charts look at, and what is usual among them.
void chart(Trend& t, const TrendRequest& request) {
  const bool subjects =
      std::any_of(t.points.begin(), t.points.end(), [](const Point& p) { return !p.figure.subject.empty(); });
  std::set<std::string_view> seen;
  std::vector<double> values;
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    if (subjects && !seen.insert(t.points[i].figure.subject).second) continue;
    t.charted.push_back({i, 0, 0, 0});
    values.push_back(t.points[i].figure.value);
  }
  constexpr std::size_t least = 3;
  if (values.size() < least) {
    t.charted.clear();
    return;
  }
  t.baseline = std::clamp<std::size_t>(request.baseline, least, values.size());
  t.single = individuals({values.begin(), values.begin() + static_cast<std::ptrdiff_t>(t.baseline)});
  t.smooth = ewma_limits(t.single.centre, t.single.sigma, request.lambda, request.width);
  t.sum_limit = request.h * t.single.sigma;
  const std::vector<double> smoothed = ewma(values, request.lambda, t.single.centre);
  const Cusum sums = cusum(values, t.single.centre, request.k * t.single.sigma);
  for (std::size_t i = 0; i < values.size(); ++i) {
    t.charted[i].smoothed = smoothed[i];
    t.charted[i].high = sums.high[i];
    t.charted[i].low = sums.low[i];
  }
}

void add_signal(Trend& t, const Charted& c, const char* chart, std::string words) {
  t.signals.push_back({t.points[c.point].entry, t.points[c.point].run, chart, std::move(words), c.point});
}

int beyond(double value, const Control& c) { return value > c.upper ? 1 : value < c.lower ? -1 : 0; }

// A single value speaks for itself; of the others only the one that crosses, not all that stay beyond.
void find_signals(Trend& t) {
  const Charted before_all{0, t.smooth.centre, 0, 0};
  for (std::size_t i = 0; i < t.charted.size(); ++i) {
    const Charted& c = t.charted[i];
    const Charted& last = i == 0 ? before_all : t.charted[i - 1];
    const double value = t.points[c.point].figure.value;
    if (const int side = beyond(value, t.single)) {
      add_signal(t, c, "single value",
                 fmt::format("{:.5g}{} is {} the limit {:.5g}", value, unit_after(t.unit),
                             side > 0 ? "above" : "below", side > 0 ? t.single.upper : t.single.lower));
    }
    const int smooth = beyond(c.smoothed, t.smooth);
    if (smooth != 0 && beyond(last.smoothed, t.smooth) != smooth) {
      add_signal(t, c, "EWMA",
                 fmt::format("the smoothed value {:.5g}{} has moved {} the usual", c.smoothed,
                             unit_after(t.unit), smooth > 0 ? "above" : "below"));
    }
    for (const bool high : {true, false}) {
      const double sum = high ? c.high : c.low;
      if (sum > t.sum_limit && (high ? last.high : last.low) <= t.sum_limit) {
        add_signal(t, c, "CUSUM",
                   fmt::format("small shifts {} have added up to {:.3g}{}", high ? "upward" : "downward", sum,
                               unit_after(t.unit)));
      }
    }
  }
}

// The points that the line goes through: all, or those of one target, one film.
void follow(Trend& t, const TrendRequest& request) {
  t.subject = request.subject.empty() ? t.points.back().figure.subject : request.subject;
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    if (t.points[i].figure.subject == t.subject) t.on.push_back(i);
  }
}

void find_drift(Trend& t) {
  const std::string whose = t.subject.empty() ? "" : fmt::format(" of {}", t.subject);
  std::vector<double> days, values;
  for (const std::size_t i : t.on) {
    days.push_back(static_cast<double>(t.points[i].at->ns - t.points.front().at->ns) / ns_per_day);
    values.push_back(t.points[i].figure.value);
  }
  if (days.size() < 3 || days.front() == days.back()) {
    t.drift = fmt::format("too little to tell: {} value{}{}{}", days.size(), days.size() == 1 ? "" : "s",
                          whose, days.size() < 3 ? ", a line needs 3" : ", all of one time");
    return;
  }
  t.line = fit_line(days, values);
  const StraightLine& l = *t.line;
  const double spread = student_95(l.count - 2) * l.u_slope;
  t.drifting = std::abs(l.slope) > drift_evidence * spread;
  const std::string slope = fmt::format("{:+.3g}{} per year, give or take {:.2g} (95 %)",
                                        l.slope * days_per_year, unit_after(t.unit), spread * days_per_year);
  const std::string base =
      fmt::format("{} values{} from {} to {}", l.count, whose, day_text(*t.points[t.on.front()].at),
                  day_text(*t.points[t.on.back()].at));
  t.drift = t.drifting ? fmt::format("{}: {}, by a straight line through {}",
                                     l.slope > 0 ? "rising" : "falling", slope, base)
                       : fmt::format("none that stands out from the scatter: {}, by {}", slope, base);
}

// The rated value that belongs to one that is used up, for the same subject; X_used has X_rated.
std::optional<double> rated(Index& index, const Trend& t, const Query& query) {
  constexpr std::string_view used = "_used";
  if (t.figure.size() <= used.size() || !std::string_view(t.figure).ends_with(used)) return std::nullopt;
  const Result<std::vector<Point>> points =
      index.series(t.figure.substr(0, t.figure.size() - used.size()) + "_rated", query);
  if (!points.has_value()) return std::nullopt;
  for (auto p = points.value().rbegin(); p != points.value().rend(); ++p) {
    if (p->figure.subject == t.subject && p->figure.unit == t.unit) return p->figure.value;
  }
  return std::nullopt;
}

// Where the fitted line meets the bound, with Fieller's interval for the ratio of two normal values
// (Fieller, J. R. Stat. Soc. B 16, 175 (1954)): from (d - slope x)^2 = t^2 s^2 (1/n + x^2/sxx), where d is
// the bound above the mean and x the time after the mean. It is bounded on both sides because a drift was
// asked for first.
void look_ahead(Trend& t, double bound) {
  const StraightLine& l = *t.line;
  const double last =
      static_cast<double>(t.points[t.on.back()].at->ns - t.points.front().at->ns) / ns_per_day;
  const double d = bound - l.mean_y;
  const double ts = student_95(l.count - 2) * l.residual;
  const double a = l.slope * l.slope - ts * ts / l.sxx;
  const double root = ts * std::sqrt(d * d / l.sxx + a / static_cast<double>(l.count));
  const double day = l.mean_x + d / l.slope;
  const double one = l.mean_x + (d * l.slope - root) / a;
  const double other = l.mean_x + (d * l.slope + root) / a;
  constexpr double furthest_days = 36525;  // a century: beyond it a date says nothing
  if (day < last) {
    t.outlook = fmt::format(
        "{:.5g}{} is behind: the line met it {:.0f} days before the last value, or moves "
        "away from it",
        bound, unit_after(t.unit), last - day);
  } else if (day > furthest_days) {
    t.outlook = fmt::format("{:.5g}{} is more than a century away", bound, unit_after(t.unit));
  } else {
    const auto date = [&](double at) {
      return Instant{t.points.front().at->ns +
                     static_cast<std::int64_t>(std::min(at, 2 * furthest_days) * ns_per_day)};
    };
    t.forecast = Forecast{bound, date(day), date(std::min(one, other)), date(std::max(one, other))};
    t.outlook =
        fmt::format("{:.5g}{} is reached about {}, between {} and {} (95 %), if things go on as they do",
                    bound, unit_after(t.unit), day_text(t.forecast->when), day_text(t.forecast->earliest),
                    day_text(t.forecast->latest));
  }
}

void find_outlook(Trend& t, Index& index, const TrendRequest& request) {
  std::optional<double> bound = request.bound;
  if (request.drop) bound = t.points[t.on.front()].figure.value - *request.drop;
  if (!bound) bound = rated(index, t, request.query);
  if (!bound) return;
  if (t.drifting) {
    look_ahead(t, *bound);
  } else {
    t.outlook = fmt::format("when {:.5g}{} is reached cannot be said: there is no clear drift", *bound,
                            unit_after(t.unit));
  }
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

double student_95(std::size_t freedom) {
  // NIST/SEMATECH e-Handbook 1.3.6.7.2, column 0.975.
  constexpr std::array<double, 30> table = {12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306,
                                            2.262,  2.228, 2.201, 2.179, 2.160, 2.145, 2.131, 2.120,
                                            2.110,  2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064,
                                            2.060,  2.056, 2.052, 2.048, 2.045, 2.042};
  if (freedom <= table.size()) return table.at(freedom - 1);
  // First two terms of its expansion about the normal value z: t = z + (z^3 + z) / (4 freedom).
  constexpr double z = 1.959964;
  return z + (z * z * z + z) / (4 * static_cast<double>(freedom));
}

Result<Trend> trend(Index& index, const TrendRequest& request) {
  Result<std::vector<Point>> points = index.series(request.figure, request.query);
  if (!points.has_value()) return points.diagnostics();
  if (points.value().empty()) return unknown_figure(index, request.figure);
  Trend t;
  Diagnostics said;
  t.figure = request.figure;
  t.points = std::move(points).value();
  leave_out(t, said, "undated-run", "do not say when they started", [](const Point& p) { return !p.at; });
  if (!t.points.empty()) t.unit = t.points.back().figure.unit;
  leave_out(t, said, "other-unit", fmt::format("state it in another unit than {}", t.unit),
            [&](const Point& p) { return p.figure.unit != t.unit; });
  if (t.points.size() < 3) {
    said.push_back(file_fault(request.figure, "too-few-runs",
                              fmt::format("a trend needs 3 values of this figure, there {} {}",
                                          t.points.size() == 1 ? "is" : "are", t.points.size()),
                              "archive more runs, or ask for fewer restrictions"));
    return said;
  }
  follow(t, request);
  if (t.on.empty()) {
    said.push_back(file_fault(request.figure, "unknown-figure",
                              fmt::format("no value of this figure is of '{}'", request.subject),
                              fmt::format("the newest is of '{}'", t.points.back().figure.subject)));
    return said;
  }
  const bool pure = t.unit.empty() || t.unit == "1";
  if ((request.bound || request.drop) && request.bound_unit != (pure ? "" : t.unit)) {
    said.push_back(file_fault(
        request.figure, "other-unit",
        fmt::format("the bound is in '{}', the figure in '{}'", request.bound_unit, pure ? "" : t.unit),
        pure ? "state it as a number or in %" : fmt::format("state it in {}", t.unit)));
    return said;
  }
  chart(t, request);
  find_signals(t);
  find_drift(t);
  find_outlook(t, index, request);
  return {std::move(t), std::move(said)};
}

}  // namespace vacuary::record
