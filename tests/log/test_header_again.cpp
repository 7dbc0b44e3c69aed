// A second header, or a second line of units, among the rows of a log.
#include <fmt/format.h>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

using Said = std::vector<std::string>;

std::string rows(int from, int to) {
  std::string out;
  for (int i = from; i < to; ++i)
    out += fmt::format("2031-03-04T05:{:02}:{:02}Z;{}.5;{}\n", i / 60, i % 60, i % 7, 100 + i % 5);
  return out;
}

plan::ChannelMap map_of_three(bool units_line) {
  plan::ChannelMap map = some_map();
  map.delimiter = ';';
  map.time_column = "Time";
  map.units_line = units_line;
  map.columns = {column("P", "ion.pressure"), column("Q", "argon.flow")};
  if (!units_line) {
    map.columns[0].unit = std::get<Unit>(parse_unit("mbar", Kind::pressure));
    map.columns[1].unit = std::get<Unit>(parse_unit("sccm", Kind::flow));
  }
  return map;
}

// Rows behind a second header: read on as of the first one, or stopped at line `line`.
void check_stopped(const Outcome& log, std::size_t rows_before, int line) {
  REQUIRE(log.opened);
  CHECK(log.time.size() == rows_before);
  REQUIRE(!log.said.empty());
  CHECK(log.said.back().starts_with(fmt::format("line {}: contradictory unit: ", line)));
  CHECK(log.after.find(fmt::format(":{}:1: error: another header stands here", line)) != std::string::npos);
}

}  // namespace

TEST_CASE("a line of units behind a header that comes again: the same units change nothing, others stop") {
  const plan::ChannelMap map = map_of_three(true);
  const std::string head = "Time;P;Q\n;mbar;sccm\n";
  for (const std::string again :
       {"Time;P;Q\n;mbar;sccm\n", "Time;P;Q\ns;[mbar];sccm\n", "Time;P;Q\nUTC;mbar;sccm\n"}) {
    const Outcome log = read(head + rows(0, 5) + again + rows(5, 10), map);
    CHECK(log.time.size() == 10);
    CHECK(log.breaks.empty());
    CHECK(log.said == Said{"lines 8-9: repeated header x2: the header stands here again"});
    CHECK(log.after.empty());
  }
  for (const std::string units :
       {";mTorr;sccm", ";mbar;slm", "s;mTorr;slm", ";;sccm", ";mbar", ";mbr;sccm"}) {
    CAPTURE(units);
    check_stopped(read(head + rows(0, 5) + "Time;P;Q\n" + units + "\n" + rows(5, 10), map), 5, 9);
  }
  const Outcome log = read(head + rows(0, 5) + "Time;P;Q\n;mTorr;sccm\n" + rows(5, 10), map);
  CHECK(log.said.back() ==
        "line 9: contradictory unit: a second line of units says 'mTorr' where the first says 'mbar': what "
        "follows was not read");
}

TEST_CASE("a line of units that the map does not name is held against the units it states") {
  const plan::ChannelMap map = map_of_three(false);
  const Outcome log = read("Time;P;Q\n;mbar;sccm\n" + rows(0, 5), map);
  CHECK(log.time.size() == 5);
  CHECK(log.breaks.empty());
  check_stopped(read("Time;P;Q\n;mTorr;sccm\n" + rows(0, 5), map), 0, 2);
}

TEST_CASE("a second line of units stops the reading wherever a slab ends") {
  const plan::ChannelMap map = map_of_three(true);
  for (int n = 4000; n < 4040; n += 3) {
    std::string text = "Time;P;Q\n;mbar;sccm\n" + std::string(static_cast<std::size_t>(n), '\n');
    for (int i = 0; i < 3600; ++i) text += rows(i, i + 1);
    const std::string behind = "2031-03-04T07:00:00Z;1;1\n";
    const Outcome log = read(text + "Time;P;Q\n;mTorr;sccm\n" + behind, map);
    CHECK(log.time.size() == 3600);
    CHECK(log.after.find("second-header") != std::string::npos);
  }
}

TEST_CASE("what is no line of units is a damaged row") {
  const plan::ChannelMap map = map_of_three(true);
  const std::string head = "Time;P;Q\n;mbar;sccm\n";
  for (const std::string line : {"x;1.5;sccm", "x;mbar;7", "x;OFF;OFF", ";;", "x;A;7", "mbar;5 mbar;sccm"}) {
    CAPTURE(line);
    const Outcome log = read(head + rows(0, 5) + line + "\n" + rows(5, 10), map);
    CHECK(log.time.size() == 10);
    CHECK(log.after.empty());
  }
}

TEST_CASE("a second header is one though its time column has another name, or another order") {
  const plan::ChannelMap map = map_of_three(false);
  for (const std::string header :
       {"Date/Time;P;Q", "time;P;Q", "Time;Q;P", "Zeit;Q;P", "Zeitstempel;Druck;Gasfluss", "Date/Time;Q;P;U",
        "Date/Time;P", "\fDate/Time;P;Q", "\"Date/Time\";\"P\";\"Q\"", "Datum;Zeit;P;Q",
        "Uhrzeit;P [mTorr];Q"}) {
    CAPTURE(header);
    check_stopped(read("Time;P;Q\n" + rows(0, 5) + header + "\n" + rows(5, 10), map), 5, 7);
  }
  for (const std::string same :
       {"\fTime;P;Q", " Time;P;Q", "\xEF\xBB\xBF\fTime;P;Q", "\f\xEF\xBB\xBFTime;P;Q"}) {
    CAPTURE(same);
    const Outcome log = read("Time;P;Q\n" + rows(0, 5) + same + "\n" + rows(5, 10), map);
    CHECK(log.time.size() == 10);
    CHECK(log.said == Said{"line 7: repeated header: the header stands here again"});
  }
}

TEST_CASE("what is no second header is a damaged row, or one of the wrong count") {
  const plan::ChannelMap map = map_of_three(false);
  for (const std::string line : {"x;P;7", "Date/Time;1;2", "x;OFF;OFF", "Timeout of the pump;;", "see P",
                                 "see;P;1", "Operator: door open;;", ";;", "End;Rows;7"}) {
    CAPTURE(line);
    const Outcome log = read("Time;P;Q\n" + rows(0, 5) + line + "\n" + rows(5, 10), map);
    CHECK(log.time.size() == 10);
    CHECK(log.after.empty());
  }
}

TEST_CASE("a second header that begins with the mark of comments") {
  plan::ChannelMap map = map_of_three(false);
  map.comment = '#';
  map.time_column = "#Time";
  const std::string head = "#Time;P;Q\n";
  check_stopped(read(head + rows(0, 5) + "#Date;Q;P\n" + rows(5, 10), map), 5, 7);
  check_stopped(read(head + rows(0, 5) + "#Time;Q;P\n" + rows(5, 10), map), 5, 7);
  check_stopped(read(head + rows(0, 5) + head + "#s;mTorr;sccm\n" + rows(5, 10), map), 5, 8);
  const Outcome log = read(head + rows(0, 5) + "# see P; and more\n# P\n" + head + rows(5, 10), map);
  CHECK(log.time.size() == 10);
  CHECK(log.after.empty());
}
