// A slab that is accepted as a whole, against judging each of its rows.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <random>

#include "log/support.hpp"
#include "log/timeline.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

constexpr std::int64_t second_ns = 1'000'000'000;

// Stamps every second, some with jitter, now and then a gap, a repeated or backward stamp, a change of
// cadence, a clock that was set, or a row that was dropped; in slabs of any size.
std::vector<Parsed> slabs_of(std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto pick = [&](std::uint64_t n) { return static_cast<std::int64_t>(random() % n); };
  const std::int64_t jitter = pick(3) == 0 ? second_ns / (1 + pick(40)) : 0;
  const std::uint64_t odd_every = pick(2) == 0 ? 400 : 40;
  std::int64_t period = second_ns;
  std::int64_t now = 1'930'000'000 * second_ns;
  std::uint64_t row = 0;
  std::vector<Parsed> out(static_cast<std::size_t>(3 + pick(30)));
  for (Parsed& slab : out) {
    slab.clear(0);
    const std::int64_t rows = pick(4) == 0 ? pick(4) : pick(200);
    for (std::int64_t i = 0; i < rows; ++i) {
      now += period + (jitter > 0 ? pick(static_cast<std::uint64_t>(jitter)) : 0);
      if (random() % odd_every == 0) {
        switch (pick(7)) {
          case 0:
            now += pick(20) * second_ns;
            break;
          case 1:
            now -= period;
            break;
          case 2:
            now -= pick(20) * second_ns;
            break;
          case 3:
            period = second_ns / (1 + pick(10));
            break;
          case 4:
            now += (pick(2) == 0 ? 3600 : -3600) * second_ns;
            break;
          case 5:
            slab.dropped.push_back(slab.block.time.size());
            break;
          default:
            slab.headers.push_back(slab.block.time.size());
        }
      }
      slab.block.time.push_back(Instant{now});
      slab.block.line.push_back(row);
      slab.mark.push_back(row++);
    }
    // What stands at its end concerns rows of another slab: one stamped ahead of those, what was dropped.
    if (pick(8) == 0) {
      slab.block.time.push_back(Instant{now + 5 * second_ns});
      slab.block.line.push_back(row);
      slab.mark.push_back(row++);
    }
    if (pick(8) == 0) slab.dropped.push_back(slab.block.time.size());
    if (pick(12) == 0) slab.headers.push_back(slab.block.time.size());
    slab.note_distances();
  }
  return out;
}

// What is kept, how it is dated and what is said, as text.
std::string walked(std::vector<Parsed> slabs, const plan::ChannelMap& map) {
  std::string out;
  Timeline timeline(map, [&](const Event& event) {
    out += fmt::format("{} {} {} {} {} {} {}\n", name(event.what), event.line, event.last_line, event.count,
                       event.from.ns, event.to.ns, event.detail);
  });
  for (std::size_t s = 0; s < slabs.size(); ++s) {
    std::vector<bool> keep;
    std::vector<std::size_t> breaks;
    timeline.walk({0, 0, false, s + 1 < slabs.size() ? &slabs[s + 1] : nullptr}, slabs[s], keep, breaks);
    for (std::size_t i = 0; i < keep.size(); ++i)
      out += fmt::format("{}{} ", keep[i] ? "" : "-", slabs[s].block.time[i].ns);
    for (const std::size_t row : breaks) out += fmt::format("| {} ", row);
    out += "\n";
  }
  timeline.finish();
  return out + fmt::format("{} {}", timeline.end().ns, timeline.period().value());
}

}  // namespace

TEST_CASE("slabs taken as wholes leave the timeline as their rows would, one by one") {
  for (std::uint64_t seed = 1; seed <= 600; ++seed) {
    CAPTURE(seed);
    plan::ChannelMap map = some_map();
    if (seed % 4 == 3) map.logging = plan::Logging::on_change;
    if (seed % 3 == 1) map.period = Duration::from_value(1);
    if (seed % 3 == 2) map.period = Duration::from_value(0.2);
    const std::vector<Parsed> slabs = slabs_of(seed);
    std::vector<Parsed> by_rows = slabs;
    for (Parsed& slab : by_rows) {  // as if two stamps were equal and a year lay in it: never a whole
      slab.nearest_ns = 0;
      slab.furthest_ns = 400 * 86'400 * second_ns;
    }
    CHECK(walked(slabs, map) == walked(by_rows, map));
  }
}

namespace {

plan::ChannelMap counted_from(const char* start) {
  plan::ChannelMap map = some_map();
  map.time_form = plan::TimeForm::elapsed_s;
  Instant zero;
  REQUIRE(from_rfc3339(start, zero));
  map.start = zero;
  return map;
}

std::string counted(int from, int to, int value) {
  std::string text;
  for (int s = from; s < to; ++s) text += fmt::format("{},{}e-6\n", s, value + s);
  return text;
}

const Event* lost_in(const Outcome& log) {
  for (const Event& event : log.events) {
    if (event.lost) return &event;
  }
  return nullptr;
}

}  // namespace

TEST_CASE("a time of day without its date, or of twelve hours, goes on behind midnight and noon") {
  for (const int day_h : {24, 12}) {
    CAPTURE(day_h);
    std::string text = "time,ion.pressure [mbar]\n";
    for (int s = -50; s < 100; ++s) {
      if (s > 20 && s < 30) continue;  // a gap is one as ever
      const int of_day = (s + 24 * 3600) % (day_h * 3600) + (day_h == 12 ? 3600 : 0);
      text += fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,{}e-6\n", of_day / 3600, of_day / 60 % 60,
                          of_day % 60, 200 + s);
    }
    const Outcome log = read(text);
    REQUIRE(log.time.size() == 141);
    CHECK(log.time.back().ns - log.time.front().ns == std::int64_t{149} * 1'000'000'000);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::clock_step)] == 1);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::gap)] == 1);
    CHECK(log.breaks.size() == 1);
    CHECK(lost_in(log) == nullptr);
  }
}

TEST_CASE("elapsed time that counts from its zero again goes on, in one file and in a further one") {
  const plan::ChannelMap map = counted_from("2031-03-04T05:00:00Z");
  const std::string header = "time,ion.pressure [mbar]\n";
  const std::string first = header + counted(0, 100, 100), second = counted(0, 50, 500);
  for (const bool two_files : {false, true}) {
    CAPTURE(two_files);
    const Outcome log =
        two_files ? read_files({write("first.csv", first), write("second.csv", header + second)}, map)
                  : read(first + second, map);
    REQUIRE(log.time.size() == 150);
    CHECK(log.time[100].ns - log.time[99].ns == 1'000'000'000);
    CHECK(log.time[149].ns - log.time[0].ns == std::int64_t{149} * 1'000'000'000);
    CHECK(log.breaks == std::vector<std::size_t>{100});
    const Event* lost = lost_in(log);
    REQUIRE(lost != nullptr);
    CHECK(lost->what == Oddity::clock_restart);
    CHECK(lost->line == (two_files ? 2 : 102));
  }
  // The same rows again are a copy of them.
  const Outcome copy = read(first + counted(0, 100, 100), map);
  CHECK(copy.time.size() == 100);
  CHECK(copy.tally.count[static_cast<std::size_t>(Oddity::joined_export)] == 100);
  CHECK(lost_in(copy) == nullptr);
}

TEST_CASE(
    "rows that are dropped and not there twice are said to be lost: files in the wrong order, a clock set "
    "back") {
  const auto stamped = [](int from, int to, int value) {
    std::string text;
    for (int s = from; s < to; ++s)
      text += fmt::format("2031-03-04T05:{:02}:{:02}Z,{}e-6\n", s / 60, s % 60, value + s);
    return text;
  };
  const std::string header = "time,ion.pressure [mbar]\n";
  const Outcome wrong = read(header + stamped(500, 1000, 1) + stamped(0, 500, 1));
  CHECK(wrong.time.size() == 500);
  REQUIRE(lost_in(wrong) != nullptr);
  CHECK(lost_in(wrong)->count == 500);
  const Outcome back = read(header + stamped(0, 1000, 1) + stamped(400, 1400, 5000));
  REQUIRE(lost_in(back) != nullptr);
  CHECK(lost_in(back)->line == 1002);
  const Outcome twice = read(header + stamped(0, 1000, 1) + stamped(400, 1400, 1));
  CHECK(twice.time.size() == 1400);
  CHECK(lost_in(twice) == nullptr);
}
