// Stamps coarser than rows are apart: rows are dated within them.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

// Rows at the seconds from the hour on, each with another value, stamped to multiples of `unit`.
std::string stamped(const std::vector<int>& seconds, int unit) {
  std::string text = "time,ion.pressure [mbar]\n";
  for (const int s : seconds) {
    const int at = s / unit * unit;
    text += fmt::format("2031-03-04T05:{:02}:{:02}Z,{}e-6\n", at / 60, at % 60, s + 1);
  }
  return text;
}

std::vector<int> every(int distance, int from, int to) {
  std::vector<int> out;
  for (int s = from; s < to; s += distance) out.push_back(s);
  return out;
}

std::vector<int> joined(std::vector<int> a, const std::vector<int>& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

// From the row on, how far each is from where it was written, s: the furthest.
double furthest_s(const Outcome& log, const std::vector<int>& seconds, std::size_t from) {
  Instant hour;
  REQUIRE(from_rfc3339("2031-03-04T05:00:00Z", hour));
  REQUIRE(log.time.size() == seconds.size());
  double furthest = 0;
  for (std::size_t r = from; r < seconds.size(); ++r)
    furthest =
        std::max(furthest, std::abs(static_cast<double>(log.time[r].ns - hour.ns) * 1e-9 - seconds[r]));
  return furthest;
}

}  // namespace

TEST_CASE("rows that share a stamp again and again are dated within it, and told") {
  for (const int unit : {2, 5, 10, 60}) {
    CAPTURE(unit);
    const std::vector<int> seconds = every(1, 0, 600);
    const Outcome log = read(stamped(seconds, unit));
    CHECK(furthest_s(log, seconds, static_cast<std::size_t>(unit)) < 1e-6);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::shared_stamp)] ==
          600 - static_cast<std::size_t>(unit));
    CHECK(log.tally.period.value() == doctest::Approx(1));
  }
}

TEST_CASE(
    "a log that becomes dense or rare within a stamp, or has a gap up to one, is dated from that side") {
  // 10 s, then 1 s from within a minute, then 10 s again.
  const std::vector<int> seconds = joined(joined(every(10, 0, 320), every(1, 320, 500)), every(10, 500, 900));
  const Outcome log = read(stamped(seconds, 60));
  // Where both distances share a stamp the 10 s rows are off, by less than the stamp.
  CHECK(furthest_s(log, seconds, 6) < 60);
  const std::vector<int> dense = joined(every(1, 0, 305), every(1, 330, 600));
  const Outcome gap = read(stamped(dense, 10));
  CHECK(furthest_s(gap, dense, 10) < 1e-6);
  // Some rows missing within a stamp: spread over it.
  const std::vector<int> holed = joined(every(1, 0, 310), every(1, 320, 600));
  const Outcome spread = read(stamped(holed, 60));
  CHECK(furthest_s(spread, holed, 60) < 11);
}

TEST_CASE("one stamp that came twice, and rows that were written twice, are no coarse stamps") {
  std::string text = stamped(every(1, 0, 20), 1);
  text += "2031-03-04T05:00:19Z,99e-6\n2031-03-04T05:00:20Z,21e-6\n";
  const Outcome pair = read(text);
  CHECK(pair.tally.count[static_cast<std::size_t>(Oddity::shared_stamp)] == 0);
  CHECK(pair.time[19] == pair.time[20]);
  std::string twice = "time,ion.pressure [mbar]\n";
  for (int s = 0; s < 50; ++s) {
    for (int n = 0; n < 2; ++n) twice += fmt::format("2031-03-04T05:00:{:02}Z,{}e-6\n", s, s + 1);
  }
  const Outcome log = read(twice);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::shared_stamp)] == 0);
}

TEST_CASE("stamps that no whole number of rows shares: rows go on evenly") {
  struct Coarse {
    plan::TimeForm form;
    double unit_s;
    int decimals;
  };
  // Elapsed time, written down to its last decimal: three and four rows, five and six, eight and nine in
  // turn.
  for (const Coarse& coarse :
       {Coarse{plan::TimeForm::elapsed_h, 3600, 3}, Coarse{plan::TimeForm::elapsed_d, 86400, 4}}) {
    CAPTURE(coarse.unit_s);
    const double steps = std::pow(10, coarse.decimals);
    std::string text = "time,ion.pressure [mbar]\n";
    for (int s = 0; s < 900; ++s) {
      text += fmt::format("{:.{}f},{}e-6\n", std::floor((s + 0.3) / coarse.unit_s * steps) / steps,
                          coarse.decimals, s + 1);
    }
    plan::ChannelMap map = some_map();
    map.time_form = coarse.form;
    Instant zero;
    REQUIRE(from_rfc3339("2031-03-04T05:00:00Z", zero));
    map.start = zero;
    const Outcome log = read(text, map);
    REQUIRE(log.time.size() == 900);
    double worst_s = 0;
    for (std::size_t r = 100; r + 20 < log.time.size(); ++r)
      worst_s =
          std::max(worst_s, std::abs(static_cast<double>(log.time[r].ns - log.time[r - 1].ns) * 1e-9 - 1));
    CHECK(worst_s < 0.3);
  }
}

TEST_CASE("rows stay in order where what was seen ahead is dropped") {
  std::string text = stamped(every(20, 0, 240), 60);
  text += "2031-03-04T09:00:00Z,7\n";
  for (int s = 181; s < 200; ++s) text += fmt::format("2031-03-04T05:{:02}:{:02}Z,{}\n", s / 60, s % 60, s);
  const Outcome log = read(text);
  CHECK(log.time.size() == 31);
  CHECK(std::is_sorted(log.time.begin(), log.time.end()));
}

TEST_CASE("not a row's date depends on where slabs end or on threads") {
  // Longer than a slab, so that stamps go on from one to the next.
  std::string text = "time,ion.pressure [mbar],note\n";
  const std::string filler(400, 'x');
  for (int s = 0; s < 3000; ++s)
    text += fmt::format("2031-03-04T05:{:02}:00Z,{}e-6,{}\n", s / 60, s + 1, filler);
  REQUIRE(text.size() > 4 * 256 * 1024);
  Options one, two;
  one.threads = 1;
  two.threads = 2;
  const Outcome a = read(text, some_map(), one), b = read(text, some_map(), two);
  CHECK(a.time == b.time);
  std::size_t off = 0;
  for (std::size_t r = 61; r < a.time.size(); ++r) {
    if (a.time[r].ns - a.time[r - 1].ns != 1'000'000'000) ++off;
  }
  CHECK(off == 0);
}
