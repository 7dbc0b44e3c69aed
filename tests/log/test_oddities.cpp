// Each oddity: what survived, what was dropped, and what was said.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <random>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

using Said = std::vector<std::string>;

// Rows one second apart from `first` on: time, pressure.
std::string row(int second, const std::string& cells) {
  return fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,{}\n", 5 + second / 3600, second / 60 % 60, second % 60,
                     cells);
}
std::string rows(int from, int to, const std::string& cells = "1e-6") {
  std::string out;
  for (int s = from; s < to; ++s) out += row(s, cells);
  return out;
}
const std::string header = "time,ion.pressure [Pa]\n";

// How many cells of the pressure are not usable.
std::size_t nans(const Outcome& log) {
  std::size_t n = 0;
  for (const double v : log.values.at("ion.pressure")) n += std::isnan(v) ? 1U : 0U;
  return n;
}

plan::ChannelMap one_column(plan::Column c) {
  plan::ChannelMap map = some_map();
  map.columns = {std::move(c)};
  return map;
}

}  // namespace

TEST_CASE("a log that is newest first is said to be so") {
  std::string text = "time,ion.pressure [Pa]\n";
  const Instant end{1930367167000000000};
  for (std::int64_t s = 0; s < 200; ++s)
    text += fmt::format("{},{}\n", to_rfc3339(Instant{end.ns - s * 1'000'000'000}), 1 + s);
  const Outcome log = read(text);
  INFO(log.after);
  CHECK(log.after.find("newest-first") != std::string::npos);
  CHECK(log.after.find("newest_first = true") != std::string::npos);
}

TEST_CASE("a clean log has nothing odd") {
  const Outcome log = read(header + rows(0, 100));
  CHECK(log.said == Said{});
  CHECK(log.time.size() == 100);
  CHECK(log.tally.rows == 100);
  CHECK(log.tally.lines == 101);
  CHECK(log.tally.period.value() == 1);
  CHECK(log.breaks.empty());
}

TEST_CASE("gap: found against the rows around it") {
  const Outcome log = read(header + rows(0, 10) + rows(22, 30));
  CHECK(log.said == Said{"line 12: gap: 13 s without a row (logged every 1 s)"});
  CHECK(log.time.size() == 18);
  CHECK(log.breaks == std::vector<std::size_t>{10});
}

TEST_CASE("gap: a change of cadence is none") {
  std::string text = header;
  for (int s = 0; s < 300; s += 30) text += row(s, "1e-6");
  const Outcome log = read(text + rows(300, 320) + row(350, "1") + row(380, "1") + row(410, "1"));
  CHECK(log.said == Said{});
}

TEST_CASE("gap: between the shortest and the longest stated period the rows around it decide") {
  plan::ChannelMap map = some_map();
  map.period = Duration::from_value(30);
  map.step_periods = {{plan::StepKind::sputter, Duration::from_value(1)}};
  std::string text = header;
  for (int s = 0; s < 300; s += 30) text += row(s, "1e-6");
  map.columns = {column("ion.pressure", "ion.pressure")};
  const Outcome log = read(text + rows(300, 320) + rows(345, 360), map);
  CHECK(log.said == Said{"line 32: gap: 26 s without a row (logged every 1 s)"});
}

TEST_CASE("gap: several running are one event") {
  plan::ChannelMap map = some_map();
  map.period = Duration::from_value(1);
  const Outcome log =
      read(header + rows(0, 3) + row(6, "1") + row(10, "1") + row(13, "1") + rows(14, 16), map);
  CHECK(log.said == Said{"lines 5-7: gap x3: 3 gaps in a row, the longest 4 s (logged every 1 s)"});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::gap)] == 3);
}

TEST_CASE("gap: silence in an on-change log is none, and an empty cell means as before") {
  plan::ChannelMap map = some_map();
  map.logging = plan::Logging::on_change;
  const Outcome log =
      read("time,ion.pressure [Pa],argon.flow [sccm]\n" + rows(0, 2, "1,2") + row(500, ",3") + row(501, "4,"),
           map);
  CHECK(log.said == Said{});
  CHECK(log.values.at("ion.pressure") == std::vector<double>{1, 1, 1, 4});
}

TEST_CASE("repeated stamp: the rows stay") {
  const Outcome log = read(header + rows(0, 5) + rows(4, 5, "2e-6") + rows(4, 9));
  CHECK(log.said == Said{"lines 7-8: repeated stamp x2: the same stamp as the row above"});
  CHECK(log.time.size() == 11);
}

TEST_CASE("backward stamp: one row is dropped") {
  const Outcome log = read(header + rows(0, 10) + row(5, "9") + rows(10, 20));
  CHECK(log.said == Said{"line 12: backward stamp: stamped 4 s before the row above; dropped"});
  CHECK(log.time.size() == 20);
  CHECK(log.breaks == std::vector<std::size_t>{10});
}

TEST_CASE("backward stamp: one row far ahead is dropped, not all that follow") {
  const Outcome log = read(header + rows(0, 10) + "2099-01-01T00:00:00Z,9\n" + rows(10, 20));
  CHECK(log.said ==
        Said{"line 12: backward stamp: stamped 5.946e+05 h ahead of the rows around it; dropped"});
  CHECK(log.time.size() == 20);
}

namespace {

// Rows one second apart whose pressure is never the same twice; stamped `ahead` seconds late.
std::string moving(int from, int to, int ahead = 0) {
  std::string out;
  for (int s = from; s < to; ++s) out += row(s + ahead, fmt::format("{}e-6", 1000 + s * 7919 % 997));
  return out;
}

}  // namespace

TEST_CASE("clock step: set back, the rows behind it are new and dated as if it had gone on") {
  const Outcome log = read(header + moving(0, 10) + moving(10, 20, -3));
  CHECK(log.said ==
        Said{"line 12: clock step: the log's clock was set back 3 s; rows from here on are dated 3 s "
             "later than they say, so that time runs on"});
  REQUIRE(log.time.size() == 20);
  CHECK(log.time.back().ns - log.time.front().ns == 19 * std::int64_t{1'000'000'000});
  CHECK(log.breaks == std::vector<std::size_t>{10});
}

TEST_CASE("clock step: an hour back in a log whose zone does not know of it, and put right later") {
  const Outcome log = read(header + moving(0, 4000) + moving(4000, 4100, -3600) + moving(4100, 4200));
  CHECK(log.said ==
        Said{"line 4002: clock step: the log's clock was set back 60 min; rows from here on are dated 60 min "
             "later than they say, so that time runs on",
             "line 4102: clock step: the log's clock was set forward 60 min, as much as it had been set "
             "back; rows from here on are dated as they say"});
  CHECK(log.time.size() == 4200);
  CHECK(log.breaks == std::vector<std::size_t>{4000, 4100});
  CHECK(log.tally.end.ns - log.tally.start.ns == 4199 * std::int64_t{1'000'000'000});
}

TEST_CASE("clock step: forward is a gap to the reader, and no gap once it has been put right") {
  const Outcome log = read(header + moving(0, 10) + moving(10, 20, 600) + moving(20, 30));
  CHECK(log.said ==
        Said{"line 12: gap: 10.02 min without a row (logged every 1 s)",
             "line 22: clock step: the log's clock was set back 10 min, as much as it had gone forward "
             "at line 12: nothing is missing there; rows from here on are dated 10 min later than they "
             "say, so that time runs on"});
  CHECK(log.time.size() == 30);
}

TEST_CASE("clock step: rows that were there before, values and all, are a second export") {
  const Outcome log = read(header + moving(0, 10) + moving(7, 20));
  CHECK(log.said ==
        Said{"lines 12-14: two exports pasted together x3: the log goes back 3 s to "
             "2031-03-04T05:00:07Z: two exports pasted together; the rows that are older than the last "
             "one were dropped"});
  CHECK(log.time.size() == 20);
}

TEST_CASE("rows out of order fill a hole: they are no step of the clock") {
  const Outcome log = read(header + moving(0, 10) + moving(13, 20) + moving(10, 13) + moving(20, 30));
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::clock_step)] == 0);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::backward_stamp)] == 3);
}

TEST_CASE("two exports pasted together, with and without the header between") {
  const Outcome bare = read(header + rows(0, 100) + rows(0, 120));
  CHECK(
      bare.said ==
      Said{
          "lines 102-201: two exports pasted together x100: the log goes back 100 s to 2031-03-04T05:00:00Z: "
          "two exports pasted together; the rows that are older than the last one were dropped"});
  const Outcome headed = read(header + rows(0, 100) + header + rows(50, 120));
  CHECK(headed.said ==
        Said{"line 102: repeated header: the header stands here again",
             "lines 103-152: two exports pasted together x50: the log goes back 50 s to "
             "2031-03-04T05:00:50Z: two exports pasted together; the rows that are older than the last one "
             "were dropped"});
}

TEST_CASE("missing cell, NaN, overrange and unreadable cells: NaN, and one event for a run") {
  const Outcome log = read(header + rows(0, 3) + rows(3, 6, "") + rows(6, 7, "nan") + rows(7, 8, "1e999") +
                           rows(8, 10, "off") + rows(10, 12));
  CHECK(log.said == Said{"lines 5-7 ion.pressure: missing cell x3",
                         "line 8 ion.pressure: not a number: 'nan'",
                         "line 9 ion.pressure: overrange: '1e999'",
                         "lines 10-11 ion.pressure: unreadable cell x2: 'off'"});
  CHECK(log.time.size() == 12);
  CHECK(nans(log) == 7);
}

TEST_CASE("bad-value codes, bad texts and overrange of the map") {
  plan::Column c = column("P1", "ion.pressure", "mbar");
  c.bad_values = {-1, 9.9e9};
  c.bad_texts = {"OFF"};
  c.overrange = 1000;
  const Outcome log = read("time,P1\n" + rows(0, 1, "2e-6") + rows(1, 2, "-1.0") + rows(2, 3, "9.9e9") +
                               rows(3, 4, "OFF") + rows(4, 5, "1000") + rows(5, 6, "OF"),
                           one_column(c));
  CHECK(log.said == Said{"lines 3-5 ion.pressure: bad-value code x3: '-1.0'",
                         "line 6 ion.pressure: overrange: '1000'",
                         "line 7 ion.pressure: unreadable cell: 'OF'"});
  CHECK(log.values.at("ion.pressure")[0] == doctest::Approx(2e-4).epsilon(1e-15));
  CHECK(nans(log) == 5);
}

TEST_CASE("wrong field count: the row is dropped and the hole is marked") {
  const Outcome log = read(header + rows(0, 5) + row(5, "1,2") + "2031-03-04T05:00:06Z\n" + rows(7, 12));
  CHECK(log.said == Said{"lines 7-8: wrong field count x2: 3 cells, the header has 2",
                         "line 9: gap: 3 s without a row (logged every 1 s)"});
  CHECK(log.time.size() == 10);
  CHECK(log.breaks == std::vector<std::size_t>{5});
}

TEST_CASE("a delimiter at the end of each row is no extra cell") {
  const Outcome log = read("time,ion.pressure [Pa],\n" + rows(0, 3, "1,") + rows(3, 6, "1"));
  CHECK(log.said == Said{});
  CHECK(log.time.size() == 6);
}

TEST_CASE("cut last line: too few cells, or a last cell that may have lost digits") {
  const Outcome few = read(header + rows(0, 5) + "2031-03-04T05:0");
  CHECK(few.said ==
        Said{"line 7: cut last line: the file ends in the middle of it: 1 cells, the header has 2"});
  CHECK(few.time.size() == 5);
  const Outcome digits = read(header + rows(0, 5) + "2031-03-04T05:00:05Z,1e-6");
  CHECK(digits.said ==
        Said{"line 7: cut last line: no line break at its end: its last cell may be cut and is not used"});
  CHECK(digits.time.size() == 6);
  CHECK(nans(digits) == 1);
}

TEST_CASE("a second header with other units stops the reading") {
  const Outcome log = read(header + rows(0, 5) + "time,ion.pressure [mbar]\n" + rows(5, 10));
  CHECK(log.said == Said{"line 7: contradictory unit: a second header with other columns or units: what "
                         "follows was not read"});
  CHECK(log.time.size() == 5);
  CHECK(log.failures ==
        Said{"second-header: another header stands here, with other columns or units than the first; the "
             "rows from here on were not read"});
}

TEST_CASE("unreadable time: the row is dropped") {
  const Outcome log = read(header + rows(0, 5) + "2031-02-30T05:00:05Z,1\nx,2\n" + rows(7, 12));
  CHECK(log.said == Said{"lines 7-8: unreadable time x2: '2031-02-30T05:00:05Z' is not RFC 3339 such as "
                         "2031-03-04T05:06:07.250Z",
                         "line 9: gap: 3 s without a row (logged every 1 s)"});
  CHECK(log.time.size() == 10);
}

TEST_CASE("comment line: it is passed over, with or without a map that names its mark") {
  const std::string text = "# by hand\n" + header + rows(0, 10) + "# one, note\n#\n" + rows(10, 20);
  plan::ChannelMap map = some_map();
  map.comment = '#';
  for (const plan::ChannelMap& each : {plan::ChannelMap{}, map}) {
    const Outcome log = read(text, each);
    REQUIRE(log.opened);
    CHECK(log.time.size() == 20);
    CHECK(log.breaks.empty());
    CHECK(log.said == Said{"lines 13-14: comment line x2: '# one, note'"});
  }
  const Outcome unsaid = read(header + rows(0, 10) + "# one, note, more\n" + rows(10, 20), some_map());
  CHECK(unsaid.said == Said{"line 12: wrong field count: 3 cells, the header has 2"});
  CHECK(unsaid.breaks == std::vector<std::size_t>{10});
}

TEST_CASE("comment line: many above the first row, and between a header and its units") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  map.units_line = true;
  map.columns = {column("P", "ion.pressure")};
  std::string notes;
  for (int i = 0; i < 50; ++i) notes += "# note\n";
  for (const bool newest_first : {false, true}) {
    map.newest_first = newest_first;
    const Outcome log = read("time,P\n" + notes + ",Pa\n" + notes + row(newest_first ? 1 : 0, "1") +
                                 row(newest_first ? 0 : 1, "2"),
                             map);
    for (const std::string& failure : log.failures) MESSAGE(failure);
    REQUIRE(log.opened);
    CHECK(log.time.size() == 2);
    CHECK(log.line[0] == (newest_first ? 104U : 103U));
  }
}

TEST_CASE(
    "comment line: rows of one stamp are one row, whatever stands between them and wherever a slab ends") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  map.long_form = true;
  map.long_channel_column = "tag";
  map.long_value_column = "value";
  map.columns = {column("P", "ion.pressure", "Pa"), column("W", "dc.power", "W")};
  std::string text = "time,tag,value\n";
  for (int s = 0; s < 12000; ++s)
    text += row(s, "P,1") +
            "# a note of any length: " + std::string(static_cast<std::size_t>(s * 31 % 67), '.') + "\n" +
            row(s, "W,2");
  const Outcome log = read(text, map);
  CHECK(log.time.size() == 12000);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::repeated_stamp)] == 0);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::comment_line)] == 12000);
}

TEST_CASE("comment line: a header that begins with the mark is a header") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  map.time_column = "# time";
  const std::string marked = "# " + header;
  const Outcome log =
      read(marked + rows(0, 10) + "# note, here\n" + rows(10, 20) + marked + rows(20, 30), map);
  REQUIRE(log.opened);
  CHECK(log.time.size() == 30);
  CHECK(log.said == Said{"line 12: comment line: '# note, here'",
                         "line 23: repeated header: the header stands here again"});
  const Outcome other = read(marked + rows(0, 10) + "# time,ion.pressure [mbar]\n" + rows(10, 20), map);
  CHECK(other.after.find("second-header") != std::string::npos);
  // Also where blanks part the cells, and where the newest row comes first.
  map.delimiter = '\t';
  map.blanks = 2;
  map.time_column = "#time";
  map.preamble_lines = 0;
  const Outcome parted = read(
      "#time                 ion.pressure [Pa]\n2031-03-04T05:06:00Z  1\n#  so  it  is\n"
      "2031-03-04T05:06:01Z  2\n",
      map);
  REQUIRE(parted.opened);
  CHECK(parted.values.at("ion.pressure") == std::vector<double>{1, 2});
  map.newest_first = true;
  const Outcome turned = read(
      "#time                 ion.pressure [Pa]\n2031-03-04T05:06:01Z  2\n#  so  it  is\n"
      "2031-03-04T05:06:00Z  1\n",
      map);
  REQUIRE(turned.opened);
  CHECK(turned.values.at("ion.pressure") == std::vector<double>{1, 2});
  CHECK(turned.said.size() == 1);
}

TEST_CASE("comment line: a header that begins with the mark is told from comments by the names in it") {
  const std::string notes = "# operator; looked in; twice\n#\n";
  plan::ChannelMap map = some_map();
  map.delimiter = ';';
  map.comment = '#';
  map.columns = {column("p", "ion.pressure", "Pa"), column("#2 power", "dc.power", "W")};
  const auto lines = [](char part) {
    std::string out;
    for (int s = 0; s < 5; ++s) out += fmt::format("2031-03-04T05:06:{0:02}Z{1}1{1}2\n", s, part);
    return out;
  };
  const auto check = [&](const std::string& names, const plan::ChannelMap& with, std::uint64_t first) {
    const Outcome log =
        read(notes + names + "\n" + notes + lines(with.blanks > 0 ? '\t' : with.delimiter), with);
    for (const std::string& failure : log.failures) FAIL_CHECK(names << ": " << failure);
    REQUIRE(log.opened);
    CHECK(log.line[0] == first);
    CHECK(log.values.at("ion.pressure").size() == 5);
    CHECK(log.values.at("dc.power")[4] == 2);
  };
  // A name begins with the mark, the header does not; the time is not named and the header does; both.
  for (const char* names :
       {"when;p;#2 power", "# when;p;#2 power", "#when;p [Pa];#2 power", "# time;p;#2 power"})
    check(names, map, 6);
  map.time_column = "# when";
  check("# when;p;#2 power", map, 6);
  map.time_column.clear();
  map.delimiter = '\t';
  map.blanks = 2;
  check("# when  p  #2 power", map, 6);
  check("when  p  #2 power", map, 6);
  map.newest_first = true;
  const Outcome turned = read(notes + "# when  p  #2 power\n# note\n2031-03-04T05:06:01Z  1  2\n", map);
  REQUIRE(turned.opened);
  CHECK(turned.line == std::vector<std::uint64_t>{5});

  // Without a map: by names that are channels.
  const Outcome unmapped = read("# by hand\n# time,ion.pressure [Pa]\n" + rows(0, 5));
  REQUIRE(unmapped.opened);
  CHECK(unmapped.time.size() == 5);

  // The map names the marked column itself, and no channel that is there.
  plan::ChannelMap time_only = some_map();
  time_only.comment = '#';
  time_only.time_column = "# time";
  time_only.columns = {column("P", "ion.pressure", "Pa")};
  const Outcome nothing = read("# time,p\n2031-03-04T05:06:07Z,1\n", time_only);
  REQUIRE(nothing.failures.size() == 1);
  CHECK(nothing.failures[0].find("it has: '# time', 'p'") != std::string::npos);

  // Names that are not there: the line that may have been meant is named.
  plan::ChannelMap other = some_map();
  other.comment = '#';
  other.columns = {column("P", "ion.pressure", "Pa")};
  const Outcome log = read("# time,p\n2031-03-04T05:06:07Z,1\n2031-03-04T05:06:08Z,1\n", other);
  REQUIRE(log.failures.size() == 1);
  CHECK(log.failures[0].find("no column of this log is a known channel") != std::string::npos);
}

TEST_CASE("comment line: a row that is commented out is none, wherever its stamp stands") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  map.time_column = "time";
  const std::string text =
      "n,time,ion.pressure [Pa]\n#0,2031-03-04T05:06:00Z,7\n1,2031-03-04T05:06:01Z,1\n"
      "2,2031-03-04T05:06:02Z,1\n";
  for (const plan::ChannelMap& each : {plan::ChannelMap{}, map}) {
    const Outcome log = read(text, each);
    REQUIRE(log.opened);
    CHECK(log.line == std::vector<std::uint64_t>{3, 4});
    CHECK(log.said == Said{"line 2: comment line: '#0,2031-03-04T05:06:00Z,7'"});
  }
}

TEST_CASE(
    "comment line: a quotation mark in it that is not closed swallows no row; a quoted cell stays one") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  const std::string named = "time,ion.pressure [Pa],plant.state\n";
  const auto at = [](int s, const std::string& state) {
    return fmt::format("2031-03-04T05:06:{:02}Z,{},{}\n", s, s, state);
  };
  const std::string quoted = "\"on\n# no comment\"";
  const std::string text = named + at(0, "on") + "# note,\"half\n" + at(1, "5\"") + "# so,\"it\",\"\n" +
                           at(2, quoted) + "# as,\"was\n" + at(3, "\"\"\"on\"") + at(4, "5\"");
  for (const InstructionSet set : {InstructionSet::best, InstructionSet::avx2, InstructionSet::portable}) {
    Options options;
    options.instructions = set;
    const Outcome log = read(text, map, options);
    REQUIRE(log.opened);
    CHECK(log.line == std::vector<std::uint64_t>{2, 4, 6, 9, 10});
    CHECK(log.texts.at("plant.state")[2] == "on\n# no comment");
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::comment_line)] == 3);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 0);
  }
  // Wherever a slab ends.
  std::string long_text = named;
  for (int i = 0; i < 9000; ++i)
    long_text += fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,1,5\"\n# {},\"half\n", i / 3600, i / 60 % 60,
                             i % 60, std::string(static_cast<std::size_t>(i * 31 % 67), '.'));
  const Outcome log = read(long_text, map);
  CHECK(log.time.size() == 9000);
  CHECK(log.breaks.empty());
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::comment_line)] == 9000);
}

TEST_CASE("comment line: with quotation marks anywhere, every instruction set reads the same") {
  plan::ChannelMap map = some_map();
  map.comment = '#';
  std::mt19937 random(20318);
  const std::vector<std::string> pieces = {"#", "\"", "\n",        "\r\n",   "\r",
                                           ",", "on", "# note,\"", "\"on\"", "\n#"};
  for (int n = 0; n < 200; ++n) {
    std::string text = "time,ion.pressure [Pa],plant.state\n";
    for (int s = 0; s < 30; ++s) {
      text += fmt::format("2031-03-04T05:06:{:02}Z,{},", s, s);
      for (std::size_t k = random() % 5; k > 0; --k) text += pieces[random() % pieces.size()];
      text += "\n";
    }
    Options options;
    options.instructions = InstructionSet::portable;
    const std::string expected = fingerprint(read(text, map, options));
    for (const InstructionSet set : {InstructionSet::avx2, InstructionSet::best}) {
      options.instructions = set;
      if (fingerprint(read(text, map, options)) != expected) FAIL_CHECK(text);
    }
  }
}

TEST_CASE("too long line: it is skipped, the rest is read") {
  Options options;
  options.longest_line = 1000;
  const Outcome log = read(header + rows(0, 5) + std::string(700000, 'x') + "\n" + rows(6, 12), {}, options);
  CHECK(log.said.front() == "line 7: too long line: longer than a line may be; it was not read");
  CHECK(log.time.size() == 11);
  CHECK(log.line.back() == 13);
}

TEST_CASE("bad encoding: the cell is not used") {
  const Outcome log = read("time,ion.pressure [Pa],plant.state\n" + rows(0, 2, "1,on") +
                           row(2, "1\xFF,o\xFFn") + row(3, "1,on"));
  CHECK(log.said == Said{"line 4: bad encoding: bytes that are no text; the cells they are in are not used",
                         "line 4 ion.pressure: unreadable cell: '1\xEF\xBF\xBD'"});
  CHECK(log.texts.at("plant.state")[2] == "o\xEF\xBF\xBDn");
  const Outcome nul = read(header + rows(0, 2) + row(2, std::string("1\0", 2)) + row(3, "1"));
  CHECK(nul.tally.count[static_cast<std::size_t>(Oddity::bad_encoding)] == 1);
  CHECK(nans(nul) == 1);
}

TEST_CASE("daylight-saving fold: told apart by the order of the rows") {
  plan::ChannelMap map = some_map();
  map.time_form = plan::TimeForm::local;
  map.zone = "Europe/Berlin";  // back from 03:00 to 02:00 on 2031-10-26 (EU rule: last Sunday of October)
  std::string text = header;
  for (const char* t : {"01:30", "02:00", "02:30", "02:00", "02:30", "03:00", "03:30"}) {
    text += fmt::format("2031-10-26 {}:00,1\n", t);
  }
  const Outcome log = read(text, map);
  REQUIRE(log.time.size() == 7);
  CHECK(to_rfc3339(log.time[2]) == "2031-10-26T00:30:00Z");
  CHECK(to_rfc3339(log.time[3]) == "2031-10-26T01:00:00Z");
  CHECK(log.time[6].ns - log.time[0].ns == std::int64_t{3 * 3600} * 1'000'000'000);
  CHECK(
      log.said ==
      Said{"lines 3-6: daylight-saving fold x4: in the hour that the zone's clocks repeat; told apart by the "
           "order of the rows"});
}

TEST_CASE("a local time that the zone's clocks skip does not exist") {
  plan::ChannelMap map = some_map();
  map.time_form = plan::TimeForm::local;
  map.zone = "Europe/Berlin";  // forward from 02:00 to 03:00 on 2031-03-30
  const Outcome log =
      read(header + "2031-03-30 01:59:59,1\n2031-03-30 02:30:00,1\n2031-03-30 03:00:00,1\n", map);
  REQUIRE(log.time.size() == 2);
  CHECK(log.time[1].ns - log.time[0].ns == 1'000'000'000);
  CHECK(
      log.said ==
      Said{"line 3: unreadable time: the local time '2031-03-30 02:30:00' does not exist: the zone's clocks "
           "skip it"});
}

namespace {

// Noise of a last digit, the same every time.
std::string noisy(int i, int decimals = 2) {
  const auto x = static_cast<unsigned>(i) * 2654435761U;
  return fmt::format("{:.{}f}", 300 + static_cast<double>((x >> 16U) % 1000) / 100, decimals);
}

}  // namespace

TEST_CASE("stuck value: identical digits in a channel that shows its noise") {
  std::string text = header;
  for (int i = 0; i < 200; ++i) text += row(i, i < 120 || i >= 140 ? noisy(i) : noisy(119));
  const Outcome log = read(text);
  CHECK(log.said ==
        Said{"lines 121-141 ion.pressure: stuck value x21: the same digits for 20 s, 21 rows, in a channel "
             "that used to vary"});
  CHECK(nans(log) == 0);
}

TEST_CASE("stuck value: what is switched off, drifts slowly or stands by nature is none") {
  std::string off = header;
  std::string drift = header;
  std::string counter = "time,supply.energy [kWh]\n";
  for (int i = 0; i < 400; ++i) {
    off += row(i, i < 120 ? noisy(i) : i < 250 ? "0.00" : "12.50");
    drift += row(i, fmt::format("{:.1f}", 300.0 / (1 + i / 10)));
    counter += row(i, fmt::format("{:.4f}", i < 200 ? i * 0.0041 : 0.82));
  }
  CHECK(read(off).said == Said{});
  CHECK(read(drift).said == Said{});
  CHECK(read(counter).said == Said{});
}

TEST_CASE("stuck value: a gauge at the end of its range rests") {
  std::string text = "time,pirani.pressure [mbar]\n";
  for (int i = 0; i < 300; ++i) {
    const double p = 3e-3 / (1 + i / 3.0) * (1 + 0.05 * std::sin(i * 2.3));
    text += row(i, fmt::format("{:.2e}", i < 280 ? std::max(1e-4, p) : 0.3 * i));
  }
  CHECK(read(text).said == Said{});
}

TEST_CASE("stuck value: a device has stopped reading when all its channels stand still") {
  const std::string two = "time,supply.voltage [V],supply.power [kW]\n";
  std::string regulated = two;
  std::string frozen = two;
  for (int i = 0; i < 300; ++i) {
    const int f = i < 150 || i >= 180 ? i : 149;
    regulated += row(i, noisy(i) + "," + (i < 150 ? noisy(7 * i, 1) : "304.9"));
    frozen += row(i, noisy(f) + "," + noisy(7 * f, 1));
  }
  CHECK(read(regulated).said == Said{});
  const Outcome log = read(frozen);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::stuck_value)] >= 31);
  CHECK(log.events.front().line == 151);
}

TEST_CASE("quantisation change: digits lost, and digits that only follow the size of the value") {
  std::string lost = header;
  std::string general = header;
  for (int i = 0; i < 1000; ++i) {
    lost += row(i, noisy(i, i < 640 ? 2 : 0));
    general += row(i, fmt::format("{:.6g}", (300 + (i * 7919 % 1000) / 1000.0) / (1 + i / 100)));
  }
  CHECK(read(lost).said ==
        Said{"lines 642-705 ion.pressure: quantisation change: from 2 to 0 digits after the point"});
  CHECK(read(general).said == Said{});

  // Rounded so coarsely that it stands still; and a valve that goes to a round place and stays there.
  std::string rounded = header;
  std::string driven = header;
  for (int i = 0; i < 1000; ++i) {
    const double noise = (i * 7919 % 100 - 50) / 1000.0;
    rounded += row(i, fmt::format("{:.{}f}", 37.96 + noise, i < 640 ? 2 : 0));
    driven += row(i, i < 640 ? fmt::format("{:.2f}", 37.96 + noise) : std::string("50"));
  }
  CHECK(read(rounded).tally.count[static_cast<std::size_t>(Oddity::quantisation_change)] == 1);
  CHECK(read(driven).tally.count[static_cast<std::size_t>(Oddity::quantisation_change)] == 0);
}

TEST_CASE("the tally counts all and keeps the first twenty of each kind") {
  std::string text = header;
  for (int i = 0; i < 200; ++i) text += row(i, i % 2 == 0 ? "" : "1");
  const Outcome log = read(text);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::missing_cell)] == 100);
  CHECK(log.tally.first.size() == 20);
}

TEST_CASE("exports put one behind the other with their byte-order marks: a header is a header") {
  const std::string rows = "2031-03-04T05:06:07Z,1.5\n2031-03-04T05:06:08Z,2.5\n";
  const std::string later = "2031-03-04T05:06:09Z,3.5\n2031-03-04T05:06:10Z,4.5\n";
  const std::string mark = "\xEF\xBB\xBF";
  const Outcome same =
      read(mark + "time,ion.pressure [Pa]\n" + rows + mark + "time,ion.pressure [Pa]\n" + later);
  CHECK(same.said == Said{"line 4: repeated header: the header stands here again"});
  CHECK(same.time.size() == 4);
  const Outcome other =
      read(mark + "time,ion.pressure [Pa]\n" + rows + mark + "time,dc.voltage [V]\n" + later);
  CHECK(other.time.size() == 2);
  CHECK(other.after.find("second-header") != std::string::npos);
}

TEST_CASE("rows of time, channel, value that are sorted by channel are not taken for damage") {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.logging = plan::Logging::on_change;
  map.time_column = "t";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.columns = {column("P", "ion.pressure", "Pa"), column("U", "dc.voltage", "V"),
                 column("W", "dc.power", "W")};
  std::string text = "t,tag,val\n";
  for (const char* tag : {"P", "U", "W"}) {
    for (int i = 0; i < 50; ++i) text += fmt::format("2031-03-04T05:06:{:02}Z,{},{}\n", i, tag, i);
  }
  const Outcome log = read(text, map);
  CHECK(log.after.find("the log is not in the order of time: 100 rows are older") != std::string::npos);
  CHECK(log.after.find("[not-by-time]") != std::string::npos);
  CHECK(log.after.find("sort it by time") != std::string::npos);
}
