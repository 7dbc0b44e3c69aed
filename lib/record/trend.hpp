// A figure over many runs: is it in control, where is it drifting, when does it reach a bound?
//
// Charts for single values as in the NIST/SEMATECH e-Handbook of Statistical Methods: individuals
// (section 6.3.2.2), CUSUM (6.3.2.3), EWMA (6.3.2.4). All values in the figure's unit.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "record/index.hpp"

namespace vacuary::record {

// ---------------------------------------------------------------- the charts

struct Control {
  double centre = 0;
  double sigma = 0;  // mean moving range / 1.128
  double lower = 0, upper = 0;
};
// centre +/- 3 sigma of single values. Precondition: at least 2 values.
[[nodiscard]] Control individuals(const std::vector<double>& values);

// z_i = lambda x_i + (1 - lambda) z_(i-1), z_0 = start (not among the results).
[[nodiscard]] std::vector<double> ewma(const std::vector<double>& values, double lambda, double start);
// Its limits for large i: target +/- width sigma sqrt(lambda / (2 - lambda)).
[[nodiscard]] Control ewma_limits(double target, double sigma, double lambda, double width);

struct Cusum {
  std::vector<double> high, low;
};
// high_i = max(0, high_(i-1) + x_i - target - k), low_i = max(0, low_(i-1) + target - k - x_i).
[[nodiscard]] Cusum cusum(const std::vector<double>& values, double target, double k);

// Ordinary least squares y = intercept + slope x with standard uncertainties.
struct StraightLine {
  double intercept = 0, slope = 0;
  double u_intercept = 0, u_slope = 0;
  double residual = 0;  // standard deviation
  double mean_x = 0, mean_y = 0, sxx = 0;
  std::size_t count = 0;
};
// Precondition: at least 3 points, not all at the same x.
[[nodiscard]] StraightLine fit_line(const std::vector<double>& x, const std::vector<double>& y);

// Quantile of Student's t for a two-sided interval of 95 %. Within 0.2 % of the table of the NIST/SEMATECH
// e-Handbook, 1.3.6.7.2. Precondition: freedom > 0.
[[nodiscard]] double student_95(std::size_t freedom);

// ---------------------------------------------------------------- a trend

struct TrendRequest {
  std::string figure;
  Query query;                     // which runs; limit 0 for all
  std::size_t baseline = 20;       // the first so many values say what is usual (all, when there are fewer)
  std::string subject;             // follow this one (a target, a film); empty: that of the newest value
  std::optional<double> bound;     // when is it reached? Without one, of X_used the newest X_rated is taken
  std::string bound_unit;          // of bound or drop: must be the figure's; empty for a pure number
  std::optional<double> drop;      // instead of a bound: when has it fallen so far below its first value?
  double lambda = 0.3, width = 3;  // EWMA
  double k = 0.5, h = 5;           // CUSUM, in sigma
};

struct Signal {
  std::uint64_t entry = 0;
  std::string run;
  std::string chart;  // "single value", "EWMA", "CUSUM"
  std::string words;
  std::size_t point = 0;  // index into Trend::points
};

// When the line meets a bound. The interval holds the line's own meeting with the bound with 95 %
// (Fieller's theorem): scatter is in it, a change of behaviour is not.
struct Forecast {
  double bound = 0;
  Instant when, earliest, latest;
};

// What the charts say of one value.
struct Charted {
  std::size_t point = 0;  // index into Trend::points
  double smoothed = 0;
  double high = 0, low = 0;  // CUSUM, in the figure's unit
};

struct Trend {
  std::string figure, unit;
  std::vector<Point> points;  // oldest first, all dated
  // The charts look at every value; of figures with a subject (a film that ages, a target that wears) at the
  // first of each, since the rest is meant to change. Empty when there are fewer than 3 such values.
  std::vector<Charted> charted;
  std::size_t baseline = 0;  // how many of them said what is usual
  Control single, smooth;    // limits of single values and of the EWMA
  double sum_limit = 0;      // of the CUSUM
  std::vector<Signal> signals;
  std::string subject;               // that the line follows; may be empty
  std::vector<std::size_t> on;       // the points it goes through
  std::optional<StraightLine> line;  // x in days since the first point
  bool drifting = false;             // the slope is more than 1.5 times its 95 % interval
  std::string drift;                 // in words, with the evidence
  std::optional<Forecast> forecast;
  std::string outlook;  // in words; why not, when there is none; empty when no bound is known
};
// Fails when the index knows no such figure (with a suggestion), fewer than 3 values of it, no such subject,
// or the bound is in another unit. Values in another unit than the newest, and undated ones, are left out,
// with a warning.
[[nodiscard]] Result<Trend> trend(Index& index, const TrendRequest& request);

[[nodiscard]] std::string trend_text(const Trend& trend);
[[nodiscard]] std::string trend_csv(const Trend& trend);   // RFC 4180
[[nodiscard]] std::string trend_json(const Trend& trend);  // schemas/record.md, "Trend"
[[nodiscard]] std::string trend_html(const Trend& trend);  // one self-contained page

}  // namespace vacuary::record
