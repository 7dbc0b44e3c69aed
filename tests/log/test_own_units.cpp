// Values that come with a unit of their own: in the cell, or in a column of units.
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "log/cell.hpp"
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

using Said = std::vector<std::string>;

plan::ChannelMap map_of(std::vector<plan::Column> columns) {
  plan::ChannelMap map = some_map();
  map.columns = std::move(columns);
  return map;
}

}  // namespace

TEST_CASE("where the number of a cell ends") {
  const NumberStyle plain, german{',', '.'}, spaced{'.', ' '};
  const auto unit = [](std::string_view text, const NumberStyle& style) {
    const std::size_t end = end_of_number(text, style);
    return end == 0 ? std::string("none") : std::string(text.substr(end));
  };
  CHECK(unit("5 mbar", plain) == " mbar");
  CHECK(unit("5mbar", plain) == "mbar");
  CHECK(unit("-5.25e-3 m3/h", plain) == " m3/h");
  CHECK(unit("\u22125 \u00b0C", plain) == " \u00b0C");
  CHECK(unit("12%", plain) == "%");
  CHECK(unit("5. V", plain) == " V");
  CHECK(unit("5 eV", plain) == " eV");
  CHECK(unit("5eV", plain) == "eV");
  CHECK(unit("1.234,5 V", german) == " V");
  CHECK(unit("1 234.5 V", spaced) == " V");
  CHECK(unit("5", plain).empty());
  CHECK(unit("V 5", plain) == "none");
  CHECK(unit("- V", plain) == "none");
  CHECK(unit("", plain) == "none");
}

// 1 mbar = 100 Pa exactly (SI brochure); 0 degC = 273.15 K.
TEST_CASE("a cell with a unit is read in that unit, whatever the column's is") {
  plan::ChannelMap map =
      map_of({column("P", "ion.pressure", "mbar"), column("T", "shroud.temperature", "degC"),
              column("F", "argon.flow", "sccm")});
  map.columns[0].overrange = 1000;
  map.columns[0].bad_values = {-1};
  std::string text = "time,P,T,F\n";
  const auto add = [&](int s, const char* p, const char* t, const char* f) {
    text += fmt::format("2031-03-04T05:06:{:02}Z,{},{},{}\n", s, p, t, f);
  };
  add(0, "1.5 mbar", "20 degC", "100 sccm");
  add(1, "150 Pa", "293.15 K", "0.1 slm");
  add(2, "1500 mbar", "20", "100");
  add(3, "150 kPa", "20 degC", "100sccm");
  add(4, "-1 mbar", "20 V", "100 sccm");
  add(5, "1.5 mbr", "20degC", "ten sccm");
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  CHECK(log.said == Said{"lines 4-5 ion.pressure: overrange x2: '1500 mbar'",
                         "line 6 ion.pressure: bad-value code: '-1 mbar'",
                         "line 6 shroud.temperature: contradictory unit: '20 V'",
                         "line 7 ion.pressure: unreadable cell: '1.5 mbr'",
                         "line 7 argon.flow: unreadable cell: 'ten sccm'"});
  const auto& p = log.values.at("ion.pressure");
  CHECK(p[0] == doctest::Approx(150).epsilon(1e-15));
  CHECK(p[1] == doctest::Approx(150).epsilon(1e-15));
  CHECK(std::isnan(p[2]));
  CHECK(std::isnan(p[4]));
  const auto& t = log.values.at("shroud.temperature");
  CHECK(t[0] == doctest::Approx(293.15).epsilon(1e-15));
  CHECK(t[1] == doctest::Approx(293.15).epsilon(1e-15));
  CHECK(t[2] == doctest::Approx(293.15).epsilon(1e-15));
  const auto& f = log.values.at("argon.flow");
  CHECK(f[1] == doctest::Approx(f[0]).epsilon(1e-12));
  CHECK(f[3] == f[0]);
}

TEST_CASE("an instrument that changes its range changes no resolution") {
  const plan::ChannelMap map = map_of({column("P", "ion.pressure", "mbar")});
  std::string text = "time,P\n";
  for (int s = 0; s < 2000; ++s) {
    const int noise = (s * 7919) % 97;
    text += fmt::format("2031-03-04T05:{:02}:{:02}Z,{}\n", s / 60, s % 60,
                        s < 1000 ? fmt::format("1.2{:02} mbar", noise) : fmt::format("{} ubar", 900 + noise));
  }
  const Outcome log = read(text, map);
  CHECK(log.said == Said{});
  CHECK(log.values.at("ion.pressure")[1999] ==
        doctest::Approx(0.1 * (900 + (1999 * 7919) % 97)).epsilon(1e-12));
}

TEST_CASE("rows of time, channel, value, unit: each in its own unit, or the channel's") {
  plan::ChannelMap map = map_of({column("P", "ion.pressure", "mbar"), column("S", "plant.state")});
  map.long_form = true;
  map.long_channel_column = "tag";
  map.long_value_column = "value";
  map.long_unit_column = "unit";
  std::string text = "time,tag,value,unit\n";
  int s = 0;
  for (const char* cells : {"P,1.5,mbar", "P,150,[Pa]", "P,1.5,", "P,1.5,V", "P,1.5,?", "S,on,text"})
    text += fmt::format("2031-03-04T05:06:{:02}Z,{}\n", s++, cells);
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  const auto& p = log.values.at("ion.pressure");
  REQUIRE(p.size() == 6);
  CHECK(p[0] == doctest::Approx(150).epsilon(1e-15));
  CHECK(p[1] == doctest::Approx(150).epsilon(1e-15));
  CHECK(p[2] == doctest::Approx(150).epsilon(1e-15));
  CHECK(std::isnan(p[3]));
  CHECK(std::isnan(p[4]));
  CHECK(log.said == Said{"line 5 ion.pressure: contradictory unit: '1.5 V'",
                         "line 6 ion.pressure: unreadable cell: '1.5 ?'"});
  CHECK(log.texts.at("plant.state").back() == "on");
}

TEST_CASE("rows of time, channel, value, unit: a last line that may be cut says nothing") {
  plan::ChannelMap map = map_of({column("P", "ion.pressure", "Pa")});
  map.long_form = true;
  map.long_channel_column = "tag";
  map.long_value_column = "value";
  map.long_unit_column = "unit";
  const Outcome log = read(
      "time,tag,value,unit\n2031-03-04T05:06:00Z,P,1,(mbar)\n2031-03-04T05:06:01Z,P,1,mbar\n"
      "2031-03-04T05:06:02Z,P,7,",
      map);
  REQUIRE(log.opened);
  const auto& p = log.values.at("ion.pressure");
  REQUIRE(p.size() == 3);
  CHECK(p[0] == doctest::Approx(100).epsilon(1e-15));
  CHECK(p[2] == p[1]);  // the value before stands
}

TEST_CASE("words that stand for numbers, and numbers among them with a unit") {
  plan::Column shutter = column("S", "supply-shutter.open");
  shutter.states = {{"shut", 0}, {"open", 1}, {"2", 1}};
  const std::vector<double> expected = {0, 1, 0.25, 0.5, 1, 0.75};
  std::string wide = "time,S\n", in_header = "time,S [%]\n", tags = "time,tag,value,unit\n";
  const std::vector<std::array<const char*, 4>> cells = {
      {"shut", "shut", "shut", ""}, {"open", "open", "open", ""}, {"25 %", "25", "25", "%"},
      {"0.5", "50", "50", "%"},     {"2", "2", "2", ""},          {"75%", "0.75 ratio", "0.75", "ratio"}};
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::string stamp = fmt::format("2031-03-04T05:06:{:02}Z", i);
    wide += fmt::format("{},{}\n", stamp, cells[i][0]);
    in_header += fmt::format("{},{}\n", stamp, cells[i][1]);
    tags += fmt::format("{},S,{},{}\n", stamp, cells[i][2], cells[i][3]);
  }
  const plan::ChannelMap map = map_of({shutter});
  plan::ChannelMap long_map = map;
  long_map.long_form = true;
  long_map.long_channel_column = "tag";
  long_map.long_value_column = "value";
  long_map.long_unit_column = "unit";
  for (const auto& [text, each] : {std::pair{wide, map}, {in_header, map}, {tags, long_map}}) {
    const Outcome log = read(text, each);
    REQUIRE(log.opened);
    CHECK(log.values.at("supply-shutter.open") == expected);
    CHECK(log.said == Said{});
  }
}

TEST_CASE(
    "a number beyond the largest double is overrange also with a unit; with no unit of its kind it is not") {
  const Outcome log = read(
      "time,P\n2031-03-04T05:06:00Z,1e400 mbar\n2031-03-04T05:06:01Z,1\n2031-03-04T05:06:02Z,1e400 Pa\n"
      "2031-03-04T05:06:03Z,1\n2031-03-04T05:06:04Z,1e400 V\n",
      map_of({column("P", "ion.pressure", "mbar")}));
  REQUIRE(log.opened);
  CHECK(log.said == Said{"line 2 ion.pressure: overrange: '1e400 mbar'",
                         "line 4 ion.pressure: overrange: '1e400 Pa'",
                         "line 6 ion.pressure: contradictory unit: '1e400 V'"});
  CHECK(std::isnan(log.values.at("ion.pressure")[0]));
}

TEST_CASE("a sketch takes units from cells, and asks where they are none") {
  const std::string text =
      "time,Ion,Pirani [mbar],Argon\n" + rows(40, [](int i) {
        return fmt::format("{0},1 mbar,{1} sccm", i < 20 ? fmt::format("{} Pa", 10 + i) : "0.2 mbar",
                           250 + i % 3);
      });
  const std::string map = sketch(text);
  CHECK(holds(map, "unit = \"Pa\"  # by the log's cells, also \"mbar\": each value is read in its own\n"));
  CHECK(holds(map, "unit = \"sccm\"  # by the log's cells\n"));
  CHECK(holds(sketch("time,ion.pressure\n" + rows(20, [](int) { return "1 mbar"; })),
              "channel = \"ion.pressure\"\nunit = \"mbar\"  # by the log's cells\n"));
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == Said{});
  CHECK(log.said == Said{});
  CHECK(log.values.at("ion.pressure")[0] == 10);
  CHECK(log.values.at("ion.pressure")[39] == doctest::Approx(20).epsilon(1e-15));
}
