#include "record/trend.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <cstdint>

using namespace vacuary;
using namespace vacuary::record;

namespace {

// An index that holds one series.
struct OneSeries final : Index {
  std::vector<Point> points;
  Result<Position> position() override { return Position{}; }
  Diagnostics put(const std::vector<IndexedRun>& /*runs*/, const Position& /*position*/) override {
    return {};
  }
  Diagnostics clear() override { return {}; }
  Result<std::vector<IndexedRun>> runs(const Query& /*query*/) override { return std::vector<IndexedRun>{}; }
  Result<std::vector<Point>> series(const std::string& figure, const Query& /*query*/) override {
    return figure == "target_energy_used" ? points : std::vector<Point>{};
  }
  Result<std::vector<std::string>> figure_names() override {
    return std::vector<std::string>{"target_energy_used"};
  }
};

Point point(std::uint64_t entry, double day, double value, const char* unit = "kWh") {
  Instant start;
  REQUIRE(from_rfc3339("2031-01-01T00:00:00Z", start));
  start.ns += static_cast<std::int64_t>(day * 86400) * 1'000'000'000;
  return {entry, fmt::format("run {}", entry), to_rfc3339(start), {"target_energy_used", value, 0.5, unit}};
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
  CHECK(off_days < t.forecast->expanded_uncertainty_days);
  CHECK(t.forecast->expanded_uncertainty_days < 60);
  CHECK(t.outlook.find("2047-02") != std::string::npos);
  CHECK_FALSE(t.signals.empty());
  CHECK(trend_text(t).find("rising") != std::string::npos);
}

TEST_CASE("scatter without a drift is not called one, and a sudden shift is") {
  OneSeries index;
  for (std::uint64_t i = 0; i < 40; ++i)
    index.points.push_back(point(i + 1, static_cast<double>(i), 100 + noise(i)));
  TrendRequest request;
  request.figure = "target_energy_used";
  request.bound = 200;
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
