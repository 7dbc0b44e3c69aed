#include "record/trend.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <random>

using namespace vacuary;
using namespace vacuary::record;

namespace {

// An index that holds one series.
struct OneSeries final : Index {
  std::vector<Point> points, ratings;
  Result<Position> position() override { return Position{}; }
  Diagnostics put(const std::vector<IndexedRun>& /*runs*/, const Position& /*position*/) override {
    return {};
  }
  Diagnostics clear() override { return {}; }
  Result<std::vector<IndexedRun>> runs(const Query& /*query*/) override { return std::vector<IndexedRun>{}; }
  Result<std::uint64_t> count(const Query& /*query*/) override { return std::uint64_t{0}; }
  Result<std::vector<Point>> series(const std::string& figure, const Query& /*query*/) override {
    return figure == "target_energy_used"    ? points
           : figure == "target_energy_rated" ? ratings
                                             : std::vector<Point>{};
  }
  Result<std::vector<std::string>> figure_names() override {
    return std::vector<std::string>{"target_energy_used"};
  }
};

Point point(std::uint64_t entry, double day, double value, const char* unit = "kWh") {
  Instant start;
  REQUIRE(from_rfc3339("2031-01-01T00:00:00Z", start));
  start.ns += static_cast<std::int64_t>(day * 86400) * 1'000'000'000;
  return {entry, fmt::format("run {}", entry), start, {value, 0.5, unit, ""}};
}

// Even over +/- 0.5 and without order.
double noise(std::uint64_t i) {
  return static_cast<double>((i + 1) * 0x9E3779B97F4A7C15ULL * (i * 7 + 3) >> 40U) / 16777216.0 - 0.5;
}

}  // namespace

TEST_CASE("individuals chart: NIST/SEMATECH e-Handbook 6.3.2.2, flow rate example") {
  const Control c = individuals({49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1});
  CHECK(c.centre == doctest::Approx(50.81).epsilon(1e-12));
  CHECK(std::abs(c.upper - 55.8041) < 5e-5);
  CHECK(std::abs(c.lower - 45.8159) < 5e-5);
}

TEST_CASE("EWMA: NIST/SEMATECH e-Handbook 6.3.2.4") {
  const std::vector<double> data = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  const std::vector<double> printed = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
                                       50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
  const std::vector<double> smoothed = ewma(data, 0.3, 50);
  REQUIRE(smoothed.size() == printed.size());
  for (std::size_t i = 0; i < printed.size(); ++i) CHECK(std::abs(smoothed[i] - printed[i]) < 0.00501);
  // The handbook rounds sqrt(lambda/(2 - lambda)) to 0.4201.
  const Control limits = ewma_limits(50, 2.0539, 0.3, 3);
  CHECK(std::abs(limits.upper - 52.5884) < 2e-4);
  CHECK(std::abs(limits.lower - 47.4115) < 2e-4);
}

TEST_CASE("CUSUM: NIST/SEMATECH e-Handbook 6.3.2.3") {
  const std::vector<double> data = {324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125,
                                    324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250,
                                    327.825, 328.500, 326.675, 327.775, 326.875, 328.350};
  const std::vector<double> high = {0, 0, 0,    0,    0.03, 0,     0,     0,     0,     0,
                                    0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04};
  const std::vector<double> low = {0,    0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25,
                                   0.31, 0,    0, 0,    0, 0, 0,    0,    0,    0};
  const Cusum sums = cusum(data, 325, 0.3175);
  std::size_t first = 0;
  for (std::size_t i = 0; i < data.size(); ++i) {
    CHECK(std::abs(sums.high[i] - high[i]) < 0.00501);
    CHECK(std::abs(sums.low[i] - low[i]) < 0.00501);
    if (first == 0 && sums.high[i] > 4.1959) first = i + 1;
  }
  CHECK(first == 14);  // the first that the handbook stars
}

TEST_CASE("line: the certified values of NIST StRD Norris") {
  const std::vector<double> x = {.2,    337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                 777.0, 558.2, .4,    .6,    775.5, 666.9, 338.0, 447.5, 11.6,
                                 556.0, 228.1, 995.8, 887.6, 120.2, .3,    .3,    556.8, 339.1,
                                 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, .5};
  const std::vector<double> y = {.1,    338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                 778.9, 559.2, .3,    .1,    778.1, 668.8, 339.3, 448.9, 10.8,
                                 557.7, 228.3, 998.0, 888.8, 119.6, .3,    .6,    557.6, 339.3,
                                 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, .2};
  const StraightLine l = fit_line(x, y);
  CHECK(l.intercept == doctest::Approx(-0.262323073774029).epsilon(1e-10));
  CHECK(l.slope == doctest::Approx(1.00211681802045).epsilon(1e-12));
  CHECK(l.u_intercept == doctest::Approx(0.232818234301152).epsilon(1e-10));
  CHECK(l.u_slope == doctest::Approx(0.429796848199937e-3).epsilon(1e-10));
  CHECK(l.residual == doctest::Approx(0.884796396144373).epsilon(1e-10));
}

TEST_CASE("a steady rise is told, and the day it reaches a bound, as the line says by itself") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 40; ++i) {
    index.points.push_back(
        point(i + 1, 30.0 * static_cast<double>(i), 420 + 5.5 * static_cast<double>(i) + noise(i)));
  }
  TrendRequest request;
  request.figure = "target_energy_used";
  request.bound = 1500;
  request.bound_unit = "kWh";
  const Result<Trend> result = trend(index, request);
  REQUIRE(result.ok());
  const Trend& t = result.value();
  CHECK(t.drifting);
  REQUIRE(t.forecast.has_value());
  // 1080 kWh at 5.5 kWh in 30 days: day 5891.
  Instant expected;
  REQUIRE(from_rfc3339("2031-01-01T00:00:00Z", expected));
  expected.ns += static_cast<std::int64_t>(1080 / 5.5 * 30) * 86400 * 1'000'000'000;
  const double off_days = std::abs(static_cast<double>(t.forecast->when.ns - expected.ns)) / 86400e9;
  CHECK(off_days < 60);
  CHECK(t.forecast->earliest < expected);
  CHECK(expected < t.forecast->latest);
  CHECK(static_cast<double>(t.forecast->latest.ns - t.forecast->earliest.ns) / 86400e9 < 120);
  CHECK(t.outlook.find("2047-02") != std::string::npos);
  CHECK_FALSE(t.signals.empty());
  CHECK(trend_text(t).find("rising") != std::string::npos);
}

TEST_CASE("Student's t: the table of the NIST/SEMATECH e-Handbook 1.3.6.7.2, and the formula beyond it") {
  CHECK(student_95(1) == doctest::Approx(12.706));
  CHECK(student_95(10) == doctest::Approx(2.228));
  CHECK(student_95(30) == doctest::Approx(2.042));
  CHECK(student_95(40) == doctest::Approx(2.021).epsilon(2e-3));
  CHECK(student_95(60) == doctest::Approx(2.000).epsilon(2e-3));
  CHECK(student_95(100) == doctest::Approx(1.984).epsilon(2e-3));
}

// The promise of the interval itself: of many plants that wear evenly with scatter, the true date lies in the
// stated interval for 95 of 100. The scatter is the C++ library's, the truth is known beforehand.
TEST_CASE("forecast: 95 % of the intervals hold the true date, also from few runs") {
  std::mt19937_64 dice(1954);
  std::normal_distribution<double> scatter(0, 20);
  for (const unsigned runs : {6U, 12U, 40U}) {
    unsigned held = 0, made = 0;
    for (unsigned trial = 0; trial < 2000; ++trial) {
      OneSeries index;
      for (unsigned i = 0; i < runs; ++i)
        index.points.push_back(point(i + 1, 30.0 * i, 400 + 1.0 * 30.0 * i + scatter(dice)));
      TrendRequest request;
      request.figure = "target_energy_used";
      request.bound = 400 + 1.0 * 30.0 * runs * 2;
      request.bound_unit = "kWh";
      const Result<Trend> t = trend(index, request);
      if (!t.value().forecast) continue;
      ++made;
      const std::int64_t truth =
          index.points.front().at->ns + std::int64_t{60} * runs * 86400 * 1'000'000'000;
      held += t.value().forecast->earliest.ns <= truth && truth <= t.value().forecast->latest.ns ? 1U : 0U;
    }
    const double share = static_cast<double>(held) / made;
    MESSAGE(runs, " runs: ", share, " of ", made);
    CHECK(made > 1800);
    CHECK(share > 0.93);  // 95 % and 4 standard deviations of so many trials
    CHECK(share < 0.97);
  }
}

TEST_CASE("a target that was changed starts anew: the line follows the newest, its rating is found") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 30; ++i) {
    Point p = point(i + 1, 10.0 * static_cast<double>(i), 100.0 * static_cast<double>(i % 15) + noise(i));
    p.figure.subject = i < 15 ? "TR-AL-06" : "TR-AL-07";
    index.points.push_back(p);
  }
  Point rating = point(30, 290, 2000);
  rating.figure.subject = "TR-AL-07";
  index.ratings = {rating};
  rating.figure.subject = "TR-AL-06";
  rating.figure.value = 1500;
  index.ratings.insert(index.ratings.begin(), rating);
  TrendRequest request;
  request.figure = "target_energy_used";
  const Result<Trend> result = trend(index, request);
  REQUIRE(result.ok());
  const Trend& t = result.value();
  CHECK(t.subject == "TR-AL-07");
  CHECK(t.on.size() == 15);
  CHECK(t.charted.empty());  // two targets: too few to say what is usual of a new one
  REQUIRE(t.forecast.has_value());
  CHECK(t.forecast->bound == 2000);
  // 10 kWh a day from day 150 on: day 350.
  const Instant expected{index.points.front().at->ns + std::int64_t{350} * 86400 * 1'000'000'000};
  CHECK(t.forecast->earliest < expected);
  CHECK(expected < t.forecast->latest);
  CHECK(t.drift.find("TR-AL-07") != std::string::npos);
  request.subject = "TR-AL-06";
  CHECK(trend(index, request).value().forecast->bound == 1500);
  request.subject = "TR-AL-05";
  CHECK(trend(index, request).diagnostics().back().rule == "unknown-figure");
}

TEST_CASE(
    "a film that ages: the charts look at new films, the line at the newest, recoat by the drop allowed") {
  OneSeries index;
  std::uint64_t entry = 0;
  for (int film = 0; film < 5; ++film) {
    for (int month = 0; month < 10; ++month) {
      ++entry;
      Point p =
          point(entry, film * 700.0 + month * 30.0, 0.915 - 0.0015 * month + 0.0004 * noise(entry), "1");
      p.figure.subject = fmt::format("film {}", film);
      index.points.push_back(p);
    }
  }
  TrendRequest request;
  request.figure = "target_energy_used";  // the name does not matter
  request.drop = 0.03;
  const Trend t = trend(index, request).value();
  CHECK(t.charted.size() == 5);
  CHECK(t.signals.empty());  // every new film is as good as the first
  CHECK(t.drifting);
  REQUIRE(t.forecast.has_value());
  // 0.0015 a month: 0.03 after 20 months of 30 days.
  const Instant expected{index.points.front().at->ns + std::int64_t{4 * 700 + 600} * 86400 * 1'000'000'000};
  CHECK(std::abs(static_cast<double>(t.forecast->when.ns - expected.ns)) / 86400e9 < 40);
  CHECK(trend_text(t).find("falling") != std::string::npos);
}

TEST_CASE("scatter without a drift is not called one, and a sudden shift is") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 40; ++i)
    index.points.push_back(point(i + 1, static_cast<double>(i), 100 + noise(i)));
  TrendRequest request;
  request.figure = "target_energy_used";
  request.bound = 200;
  request.bound_unit = "kWh";
  const Result<Trend> steady = trend(index, request);
  REQUIRE(steady.ok());
  CHECK_FALSE(steady.value().drifting);
  CHECK_FALSE(steady.value().forecast.has_value());
  CHECK(steady.value().signals.empty());
  for (std::uint64_t i = 30; i < 40; ++i) index.points[i].figure.value += 3;
  const Result<Trend> shifted = trend(index, request);
  REQUIRE_FALSE(shifted.value().signals.empty());
  CHECK(shifted.value().signals.front().entry == 31);
}

TEST_CASE("unknown figures are suggested, other units left out, too few runs refused") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 5; ++i)
    index.points.push_back(point(i, static_cast<double>(i), 1, i == 0 ? "MJ" : "kWh"));
  TrendRequest request;
  request.figure = "target_energy_use";
  const Result<Trend> unknown = trend(index, request);
  CHECK(unknown.diagnostics().front().remedy == "did you mean target_energy_used?");
  request.figure = "target_energy_used";
  const Result<Trend> mixed = trend(index, request);
  REQUIRE(mixed.has_value());
  CHECK(mixed.value().points.size() == 4);
  CHECK(mixed.diagnostics().front().rule == "other-unit");
  index.points.resize(3);
  CHECK(trend(index, request).diagnostics().back().rule == "too-few-runs");
}

TEST_CASE("trend pages escape what a run is called") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 5; ++i)
    index.points.push_back(point(i, static_cast<double>(i), 1 + noise(i)));
  index.points[2].run = "<script>,\"x\"\n";
  TrendRequest request;
  request.figure = "target_energy_used";
  const Result<Trend> t = trend(index, request);
  CHECK(trend_html(t.value()).find("<script>") == std::string::npos);
  CHECK(trend_csv(t.value()).find("\"<script>,\"\"x\"\"\n\"") != std::string::npos);
  CHECK(trend_json(t.value()).find("\"<script>,\\\"x\\\"\\u000a\"") != std::string::npos);
}
