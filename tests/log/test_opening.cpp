// Logs that cannot be read: one clear message each.
#include <fmt/format.h>
#include <sys/stat.h>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::vector<std::string> failures(const std::string& bytes, const plan::ChannelMap& map = {}) {
  return read(bytes, map).failures;
}
using Said = std::vector<std::string>;
const std::string row = "2031-03-04T05:06:07Z,1\n";

}  // namespace

TEST_CASE("missing, a directory, a pipe, none at all") {
  const auto folder = write("x", "").parent_path();
  CHECK(read_files({folder / "none.csv"}).failures ==
        Said{"unreadable-log: cannot open the log: No such file or directory"});
  CHECK(read_files({folder}).failures ==
        Said{"unreadable-log: this is a directory, a log file was expected"});
  const auto pipe = folder / "pipe";
  REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
  CHECK(read_files({pipe}).failures ==
        Said{"unreadable-log: this is a device or a pipe, a log file was expected"});
  CHECK(read_files({}).failures == Said{"unreadable-log: no log file was named"});
}

TEST_CASE("empty, binary, only a header, only blank lines") {
  CHECK(failures("") == Said{"empty-log: the log is empty"});
  CHECK(failures(std::string("\x7F"
                             "ELF\x02\x01\x01\0\0\0",
                             10)) ==
        Said{"unreadable-log: this is not a text file: byte 4 is the control character 0x02"});
  CHECK(failures("time,ion.pressure [Pa]\n") == Said{"empty-log: the log has a header and no rows"});
  CHECK(failures("\n\n\n") == Said{"empty-log: the log ends before its header"});
}

TEST_CASE("not UTF-8 in the header") {
  CHECK(failures("time,t.temperature [\xB0"
                 "C]\n" +
                 row) == Said{"unreadable-log: the header is not UTF-8: byte 0xB0 stands alone"});
}

TEST_CASE("a first line without end") {
  plan::ChannelMap map;
  Options options;
  options.longest_line = 5000;
  CHECK(read(std::string(200000, 'a'), map, options).failures ==
        Said{"unreadable-log: line 1 is longer than 5000 bytes"});
}

TEST_CASE("no channel is known: what there is, and what may have been meant") {
  const auto opened = Reader::open({write("log.csv", "time,P1,ion.presure [Pa]\n" + row)}, {});
  REQUIRE(opened.diagnostics().size() == 1);
  CHECK(opened.diagnostics()[0].message ==
        "no column of this log is a known channel; it has: 'time', 'P1', 'ion.presure [Pa]'");
  CHECK(opened.diagnostics()[0].remedy.starts_with("did you mean 'ion.pressure' for 'ion.presure'?"));
}

TEST_CASE("a unit is asked for, never guessed") {
  CHECK(failures("time,ion.pressure\n" + row) ==
        Said{"missing-unit: the column 'ion.pressure' has no unit, expected one of pressure"});
  CHECK(failures("time,ion.pressure [sccm]\n" + row)
            .front()
            .starts_with("bad-unit: the unit of 'ion.pressure' is not understood"));
  CHECK(failures("time,supply.arcs\n" + row).empty());
}

TEST_CASE("litres per minute are no gas flow: what to do is said, and works") {
  const std::string log = "time,argon.flow [l/min]\n" + row;
  const auto opened = Reader::open({write("log.csv", log)}, {});
  REQUIRE(opened.diagnostics().size() == 1);
  CHECK(
      opened.diagnostics()[0].message ==
      "the unit of 'argon.flow' is not understood: 'l/min' is a pumping speed, a gas flow was expected: how "
      "much gas flows depends on its pressure too, a pumping speed does not say it");
  CHECK(opened.diagnostics()[0].remedy ==
        "did you mean 'slm', standard litre per minute? Otherwise units that fit: sccm, slm, mbar L/s, Torr "
        "L/s, Pa m3/s, mol/s; for example \"250 sccm\"; state the true one in the channel map, under the "
        "whole header 'argon.flow [l/min]'");
  plan::ChannelMap map = some_map();
  map.columns = {column("argon.flow", "argon.flow", "slm")};
  CHECK(failures(log, map) ==
        Said{"contradictory-unit: the unit of 'argon.flow' is 'slm' by the channel map and 'l/min' by the "
             "log's header, which is no gas flow"});
  map.columns = {column("argon.flow [l/min]", "argon.flow", "slm")};
  CHECK(failures(log, map).empty());
}

TEST_CASE("units that contradict each other") {
  plan::ChannelMap map = some_map();
  map.columns = {column("ion.pressure", "ion.pressure", "mbar")};
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"contradictory-unit: the unit of 'ion.pressure' is 'mbar' by the channel map and 'Pa' by the "
             "log's header"});
  map.units_line = true;
  CHECK(failures("time,ion.pressure\n,Torr\n" + row, map) ==
        Said{"contradictory-unit: the unit of 'ion.pressure' is 'mbar' by the channel map and 'Torr' by the "
             "log's line of units"});
}

TEST_CASE("a header's unit of another kind contradicts the map; a bracket that is no unit does not") {
  plan::ChannelMap map = some_map();
  map.columns = {column("supply.power", "supply.power", "kW")};
  CHECK(failures("time,supply.power [A]\n" + row, map) ==
        Said{"contradictory-unit: the unit of 'supply.power' is 'kW' by the channel map and 'A' by the log's "
             "header, which is no power"});
  CHECK(failures("time,supply.power [front]\n" + row, map).empty());
  CHECK(failures("time,supply.power [PT100]\n" + row, map).empty());
  // Named with its bracket by a person who saw it: a label.
  map.columns = {column("supply.power [A]", "supply.power", "kW")};
  CHECK(failures("time,supply.power [A]\n" + row, map).empty());
}

TEST_CASE("time that cannot be read") {
  CHECK(failures("time,ion.pressure [Pa]\n04.03.2031 05:06,1\n") ==
        Said{"unusable-time: the time column 'time' cannot be read: found '04.03.2031 05:06', expected RFC "
             "3339 such as "
             "2031-03-04T05:06:07.250Z"});
  plan::ChannelMap map = some_map();
  map.time_form = plan::TimeForm::local;
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"unusable-time: the log's stamps are local time and the channel map states no time zone"});
  map.zone = "Mars/Olympus";
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"unusable-time: the time zone 'Mars/Olympus' is not known on this machine"});
  map.zone = "UTC";
  map.time_format = "%Y-%q";
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"unusable-time: the time format has '%q', which is not known"});
  plan::ChannelMap elapsed = some_map();
  elapsed.time_form = plan::TimeForm::elapsed_s;
  CHECK(failures("time,ion.pressure [Pa]\n1,1\n", elapsed) ==
        Said{"unusable-time: the log counts elapsed time and the channel map states no start"});
}

TEST_CASE("columns of the map that the log does not have, and two columns for one channel") {
  plan::ChannelMap map = some_map();
  map.time_column = "Zeit";
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"missing-column: the channel map's time column 'Zeit' is not in the log"});
  map.time_column = "";
  map.columns = {column("P2", "manometer.pressure", "Pa")};
  const Outcome log = read("time,ion.pressure [Pa]\n" + row, map);
  CHECK(log.opened);
  REQUIRE(log.warnings.size() == 1);
  CHECK(log.warnings[0].starts_with("missing-column: the channel map's column 'P2' is not in the log"));
  CHECK(failures("time,ion.pressure [Pa],ion.pressure [mbar]\n2031-03-04T05:06:07Z,1,1\n") ==
        Said{"duplicate-channel: two columns are 'ion.pressure': 'ion.pressure [Pa]' and 'ion.pressure "
             "[mbar]'"});
}

TEST_CASE("a header of the map is a column called just so before one with brackets behind it") {
  plan::ChannelMap map = some_map();
  map.columns = {column("P1", "ion.pressure", "Pa")};
  const Outcome log = read("time,P1 (front),P1\n2031-03-04T05:06:07Z,1,2\n", map);
  CHECK(log.failures.empty());
  CHECK(log.values.at("ion.pressure").front() == 2);
  CHECK(log.header.unmapped == Said{"P1 (front)"});
  CHECK(read("time,P1 [Pa]\n" + row, map).values.at("ion.pressure").front() == 1);
}

TEST_CASE("an unknown encoding") {
  plan::ChannelMap map = some_map();
  map.encoding = "ebcdic";
  CHECK(failures("time,ion.pressure [Pa]\n" + row, map) ==
        Said{"unreadable-log: the encoding 'ebcdic' is not known"});
}

TEST_CASE(
    "a preamble of another length than the map says: the header is known by its names, and that is told") {
  plan::ChannelMap map = some_map();
  map.time_column = "Zeit";
  map.delimiter = ';';
  map.preamble_lines = 2;
  map.columns = {column("P", "ion.pressure", "Pa")};
  const auto first = write("1.csv", "Export\nPlant A\nZeit;P\n2031-03-04T05:06:07Z;1\n");
  for (const std::string preamble : {"", "Export\n", "Export\n\nPlant A\nOperator: x;y;z\n\n"}) {
    const auto lines = static_cast<int>(std::count(preamble.begin(), preamble.end(), '\n'));
    const auto second = write("2.csv", preamble + "Zeit;P\n2031-03-04T05:06:08Z;2\n");
    for (const auto& files : {std::vector{second}, std::vector{first, second}}) {
      const Outcome log = read_files(files, map);
      CHECK(log.failures == Said{});
      CHECK(log.values.at("ion.pressure").back() == 2);
      CHECK(log.line.back() == static_cast<std::uint64_t>(lines) + 2);
      CHECK(log.warnings ==
            Said{fmt::format("other-preamble: the header stands in line {}: it was found by its "
                             "names, not behind the 2 lines that preamble_lines says",
                             lines + 1)});
    }
  }
  // Behind rows a header is that of another export.
  CHECK(!read("Export\nPlant A\nTime;Q;R\n1;2;3\n1;2;3\nZeit;P\n2031-03-04T05:06:08Z;2\n", map)
             .failures.empty());
}
