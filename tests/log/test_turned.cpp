// Exports that begin with their newest row.
#include <fmt/format.h>
#include <stdlib.h>
#include <zlib.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

const std::string head = "Tarn Ridge vessel\n\ntime,ion.pressure,cathode-supply.power\n,Pa,kW\n";
const std::string foot = "\n-- end --\n";

// Five thousand rows over more than one slab, some of them odd.
std::vector<std::string> rows() {
  std::vector<std::string> out;
  for (std::int64_t i = 0; i < 5000; ++i) {
    const std::int64_t second = i + (i > 3000 ? 60 : 0);
    const std::string stamp = to_rfc3339(Instant{1'930'367'167'000'000'000 + second * 1'000'000'000});
    const std::string value = i == 1000 ? "" : i == 2000 ? "-9999" : fmt::format("{}", (i * 7919) % 100'003);
    out.push_back(fmt::format("{},{},{}", stamp, value, i == 4000 ? "?" : "15.0"));
    if (i == 500) out.push_back("torn");
  }
  return out;
}

std::string joined(const std::vector<std::string>& lines, const std::string& line_end = "\n") {
  std::string out;
  for (const std::string& line : lines) out += line + line_end;
  return out;
}

std::string newest_first(const std::string& line_end = "\n") {
  std::vector<std::string> lines = rows();
  std::reverse(lines.begin(), lines.end());
  return joined(lines, line_end);
}

plan::ChannelMap as_it_is() {
  plan::ChannelMap map = some_map();
  map.preamble_lines = 2;
  map.units_line = true;
  map.footer_lines = 1;
  map.columns = {column("ion.pressure", "ion.pressure"),
                 column("cathode-supply.power", "cathode-supply.power")};
  map.columns.front().bad_values = {-9999};
  return map;
}
plan::ChannelMap turned() {
  plan::ChannelMap map = as_it_is();
  map.newest_first = true;
  return map;
}

void check_same(const Outcome& found, const Outcome& expected) {
  for (const std::string& failure : found.failures) MESSAGE(failure);
  REQUIRE(found.opened);
  CHECK(found.time == expected.time);
  CHECK(found.breaks == expected.breaks);
  CHECK(found.tally.count == expected.tally.count);
  REQUIRE(found.values.size() == expected.values.size());
  for (const auto& [name, values] : expected.values) {
    REQUIRE(found.values.at(name).size() == values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
      const double one = found.values.at(name)[i];
      if (!(one == values[i] || (std::isnan(one) && std::isnan(values[i]))))
        FAIL_CHECK(name << " in row " << i);
    }
  }
}

}  // namespace

TEST_CASE("newest first reads as oldest first does, and lines are those of the file") {
  const Outcome expected = read(head + joined(rows()) + foot, as_it_is());
  REQUIRE(expected.opened);
  REQUIRE(expected.time.size() == 5000);
  CHECK(expected.tally.count[static_cast<std::size_t>(Oddity::gap)] == 1);
  const Outcome found = read(head + newest_first() + foot, turned());
  check_same(found, expected);
  // Line n of the rows, from the first, is line n from the last.
  const std::uint64_t first = 5, last = 5005;
  REQUIRE(found.line.size() == expected.line.size());
  for (std::size_t i = 0; i < found.line.size(); ++i) {
    if (found.line[i] != first + last - expected.line[i]) FAIL_CHECK("row " << i);
  }
  REQUIRE(found.events.size() == expected.events.size());
  for (const Event& event : expected.events) {
    const auto same = std::find_if(found.events.begin(), found.events.end(), [&](const Event& one) {
      return one.what == event.what && one.from == event.from;
    });
    REQUIRE(same != found.events.end());
    CHECK(same->last_line == first + last - event.line);
    CHECK(same->line <= same->last_line);
    const auto kept = std::find_if(found.tally.first.begin(), found.tally.first.end(), [&](const Event& one) {
      return one.what == event.what && one.from == event.from;
    });
    REQUIRE(kept != found.tally.first.end());
    CHECK(kept->line == same->line);
  }
}

TEST_CASE("newest first with any line ends, packed, and in pieces of any length") {
  const Outcome expected = read(head + joined(rows()) + foot, as_it_is());
  for (const std::string line_end : {"\r\n", "\r", "\n\n"}) {
    std::string top = head, bottom = foot;
    if (line_end[0] == '\r') {
      for (std::string* text : {&top, &bottom}) {
        for (std::size_t at = 0; (at = text->find('\n', at)) != std::string::npos; at += line_end.size())
          text->replace(at, 1, line_end);
      }
    }
    check_same(read(top + newest_first(line_end) + bottom, turned()), expected);
  }
  const auto file = write("packed.csv.gz", "");
  gzFile packed = gzopen(file.c_str(), "wb");
  const std::string text = head + newest_first() + foot;
  gzwrite(packed, text.data(), static_cast<unsigned>(text.size()));
  gzclose(packed);
  check_same(read_files({file}, turned()), expected);

  // A line that is longer than what is held in memory at a time.
  const std::string comment(300'000, 'x');
  const Outcome longer =
      read(head + "2031-03-04T05:06:08Z,2,15\n" + comment + "\n2031-03-04T05:06:07Z,1,15\n" + foot, turned());
  REQUIRE(longer.opened);
  CHECK(longer.values.at("ion.pressure") == std::vector<double>{1, 2});
  CHECK(longer.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 1);
}

TEST_CASE("newest first: lines are those of the file whatever ends them, one as another") {
  std::mt19937 random(20314);
  const std::vector<std::string> ends = {"\n", "\r\n", "\r"};
  plan::ChannelMap map = some_map();
  map.newest_first = true;
  std::size_t wrong = 0;
  for (int n = 0; n < 300; ++n) {
    const std::size_t kinds = 2 + random() % 2;  // without and with lone carriage returns
    std::string text;
    std::uint64_t lines = 0;
    char last = 'x';
    const auto add = [&](const std::string& line) {
      std::string end = ends[random() % kinds];
      if (line.empty() && last == '\r') end = "\r";  // a line feed would belong to the line before
      text += line + end;
      last = end.back();
      ++lines;
    };
    add("time,ion.pressure [Pa]");
    std::vector<std::uint64_t> expected;
    for (int s = 9; s >= 0; --s) {
      while (random() % 3 == 0) add("");
      add(fmt::format("2031-03-04T05:06:0{}Z,{}", s, s));
      expected.insert(expected.begin(), lines);
    }
    while (random() % 3 == 0) add("");
    const Outcome log = read(text, map);
    REQUIRE(log.opened);
    wrong += log.line != expected ? 1U : 0U;
  }
  CHECK(wrong == 0);
}

TEST_CASE("newest first: a last line without a line break may be cut, and is not used") {
  plan::ChannelMap map = turned();
  map.footer_lines = 0;
  const Outcome log =
      read(head + "2031-03-04T05:06:09Z,3,15\n2031-03-04T05:06:08Z,2,15\n2031-03-04T05:06:07Z,1,1", map);
  REQUIRE(log.opened);
  CHECK(log.values.at("ion.pressure") == std::vector<double>{2, 3});
  REQUIRE(!log.said.empty());
  CHECK(log.said.front().find("line 7") != std::string::npos);
}

TEST_CASE("newest first: nothing but a header, and empty files, say what they say otherwise") {
  const Outcome none = read(head, turned());
  CHECK(none.time.empty());
  const Outcome empty = read("", turned());
  CHECK(!empty.opened);
  REQUIRE(!empty.failures.empty());
  CHECK(empty.failures.front().find("the log is empty") != std::string::npos);
}

TEST_CASE("newest first: without room for temporary files it says so") {
  const char* before = ::getenv("TMPDIR");
  const std::string kept = before == nullptr ? "" : before;
  const auto file = write("newest.csv", head + newest_first() + foot);
  ::setenv("TMPDIR", "/nowhere/at/all", 1);
  const Outcome log = read_files({file}, turned());
  kept.empty() ? ::unsetenv("TMPDIR") : ::setenv("TMPDIR", kept.c_str(), 1);
  CHECK(!log.opened);
  REQUIRE(!log.failures.empty());
  CHECK(log.failures.front().find("folder for temporary files") != std::string::npos);
}

TEST_CASE("a log that is newest first, without a map that says so, names the key; a sketch finds it") {
  const auto header_and = [](bool down) {
    std::string out = "time,ion.pressure [Pa]\n";
    for (std::int64_t i = 1; i <= 100; ++i) {
      const std::int64_t s = down ? 101 - i : i;
      out += fmt::format("{},{}\n", to_rfc3339(Instant{1'930'367'167'000'000'000 + s * 1'000'000'000}), s);
    }
    return out;
  };
  const std::string plain = header_and(true);
  CHECK(read(plain).after.find("newest_first = true") != std::string::npos);
  plan::ChannelMap wrong = some_map();
  wrong.newest_first = true;
  CHECK(read(header_and(false), wrong).after.find("leave newest_first out") != std::string::npos);
  CHECK(holds(sketch(plain), "newest_first = true  # CONFIRM"));
  const Outcome log = read_with_its_sketch(plain);
  REQUIRE(log.opened);
  CHECK(log.time.size() == 100);
  CHECK(log.values.at("ion.pressure").front() == 1);
  CHECK(log.said == std::vector<std::string>{});
}

TEST_CASE("newest first: what stands unfinished at the end of the file") {
  const auto stamped = [](int i) { return fmt::format("2031-10-26 02:{:02}:00,{}\n", 54 - i, i); };
  std::string text = "time,ion.pressure [Pa]\n";
  for (int i = 0; i < 45; ++i) text += stamped(i);
  plan::ChannelMap map = some_map();
  map.newest_first = true;
  map.time_form = plan::TimeForm::local;
  map.zone = "Europe/Berlin";
  // Blanks behind the footer are no footer.
  map.footer_lines = 1;
  const Outcome footed = read(text + "-- end --\n  ", map);
  CHECK(footed.time.size() == 45);
  CHECK(footed.values.at("ion.pressure").back() == 0);
  CHECK(footed.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 0);
  // The oldest row, which may be cut, is in an hour that the clocks repeat.
  map.footer_lines = 0;
  const Outcome cut = read(text.substr(0, text.size() - 1), map);
  CHECK(cut.time.size() == 44);
  CHECK(cut.values.at("ion.pressure").front() == 43);
  CHECK(cut.tally.count[static_cast<std::size_t>(Oddity::cut_last_line)] == 1);
  CHECK(cut.tally.count[static_cast<std::size_t>(Oddity::backward_stamp)] == 0);
  CHECK(cut.tally.count[static_cast<std::size_t>(Oddity::gap)] == 0);
}

TEST_CASE("newest first: another header says which rows were taken for the first one's") {
  std::string text = "time,ion.pressure [Pa]\n";
  for (int i = 0; i < 5; ++i) text += fmt::format("2031-03-04T05:06:{:02}Z,1\n", 30 - i);
  text += "time,ion.pressure [mbar]\n";
  for (int i = 5; i < 10; ++i) text += fmt::format("2031-03-04T05:06:{:02}Z,1\n", 30 - i);
  plan::ChannelMap map = some_map();
  map.newest_first = true;
  const Outcome log = read(text, map);
  INFO(log.after);
  CHECK(log.after.find("7:1: error: another header stands here") != std::string::npos);
  CHECK(log.after.find("the rows below it were taken for the first one's") != std::string::npos);
}

TEST_CASE("newest first: a quoted cell over two lines costs its own row and gives no other row's values") {
  std::string text = "time,run.step,ion.pressure [Pa]\n";
  for (int i = 9; i >= 0; --i)
    text += fmt::format("2031-03-04T05:06:{:02}Z,{},{}\n", i, i % 3 == 0 ? "\"x\ny\"" : "\"a, b\"", i);
  plan::ChannelMap map = some_map();
  map.newest_first = true;
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  REQUIRE(log.time.size() == 6);
  const std::vector<double> left = {1, 2, 4, 5, 7, 8};
  CHECK(log.values.at("ion.pressure") == left);
  CHECK(log.texts.at("run.step")[0] == "a, b");
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 8);
}

TEST_CASE("newest first: what opening says has the file's line numbers") {
  std::string text = "time,ion.pressure [Pa]\n";
  for (int i = 0; i < 30; ++i) text += fmt::format("x{},1\n", i);
  const auto file = write("unreadable.csv", text);
  plan::ChannelMap map = some_map();
  map.newest_first = true;
  const auto opened = Reader::open({file}, map);
  REQUIRE(!opened.ok());
  CHECK(opened.diagnostics().front().where->line == 31);
  CHECK(opened.diagnostics().front().message.find("'x29'") != std::string::npos);
}
