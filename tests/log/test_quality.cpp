// Columns that say whether the values of others are good.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

using Said = std::vector<std::string>;

}  // namespace

TEST_CASE("quality columns: only what is called good is read, and the word is told") {
  plan::ChannelMap map = some_map();
  map.good_quality = {"Good", "192"};
  map.columns = {column("P", "ion.pressure", "Pa"), column("U", "dc.voltage", "V")};
  map.columns[0].quality = "P Quality";
  const Outcome log = read(
      "time,P,P Quality,U\n2031-03-04T05:06:07Z,1.5,Good,1\n2031-03-04T05:06:08Z,2.5,Bad,2\n"
      "2031-03-04T05:06:09Z,3.5,Bad,3\n2031-03-04T05:06:10Z,4.5,\"192\",4\n2031-03-04T05:06:11Z,5.5,,5\n"
      "2031-03-04T05:06:12Z,6.5, Good ,6\n2031-03-04T05:06:13Z,bad,Uncertain,7\n",
      map);
  REQUIRE(log.opened);
  CHECK(log.header.unmapped.empty());
  CHECK(log.said == Said{"lines 3-4 ion.pressure: bad-value code x2: 'Bad'",
                         "line 6 ion.pressure: bad-value code: 'no quality'",
                         "line 8 ion.pressure: bad-value code: 'Uncertain'"});
  const auto& values = log.values.at("ion.pressure");
  CHECK(values[0] == 1.5);
  CHECK(std::isnan(values[1]));
  CHECK(std::isnan(values[2]));
  CHECK(values[3] == 4.5);
  CHECK(std::isnan(values[4]));
  CHECK(values[5] == 6.5);
  CHECK(log.values.at("dc.voltage")[1] == 2);
  map.columns[0].quality = "P State";
  CHECK(read("time,P,P Quality\n2031-03-04T05:06:07Z,1.5,Good\n", map).failures ==
        Said{"missing-column: the channel map's quality column 'P State' is not in the log"});
}

TEST_CASE("of several quality columns of one name each is that of the columns before it") {
  plan::ChannelMap map = some_map();
  map.good_quality = {"Good"};
  map.columns = {column("P", "ion.pressure", "Pa"), column("U", "dc.voltage", "V")};
  for (plan::Column& each : map.columns) each.quality = "Quality";
  const Outcome log = read(
      "time,P,Quality,U,Quality\n2031-03-04T05:06:07Z,1.5,Good,1,Bad\n2031-03-04T05:06:08Z,2.5,Bad,2,Good\n",
      map);
  CHECK(log.said ==
        Said{"line 2 dc.voltage: bad-value code: 'Bad'", "line 3 ion.pressure: bad-value code: 'Bad'"});
  CHECK(log.values.at("ion.pressure")[0] == 1.5);
  CHECK(std::isnan(log.values.at("ion.pressure")[1]));
  CHECK(std::isnan(log.values.at("dc.voltage")[0]));
  CHECK(log.values.at("dc.voltage")[1] == 2);
  CHECK(read("time,Quality,P,Quality,U\n2031-03-04T05:06:07Z,Good,1.5,Good,1\n", map).failures ==
        Said{"missing-column: no 'Quality' stands behind this column, and of several each is that of the "
             "columns "
             "before it"});
}

TEST_CASE("quality columns in rows of time, channel, value, and of many rows") {
  plan::ChannelMap map = some_map();
  map.good_quality = {"1"};
  map.long_form = true;
  map.logging = plan::Logging::on_change;
  map.time_column = "t";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.long_quality_column = "q";
  map.columns = {column("P", "ion.pressure", "Pa"), column("S", "plant.state")};
  const Outcome log = read(
      "t,tag,val,q\n2031-03-04T05:06:07Z,P,1.5,1\n2031-03-04T05:06:07Z,S,on,1\n2031-03-04T05:06:08Z,P,2.5,0\n"
      "2031-03-04T05:06:09Z,P,3.5,1\n",
      map);
  REQUIRE(log.opened);
  CHECK(log.said == Said{"line 4 ion.pressure: bad-value code: '0'"});
  CHECK(std::isnan(log.values.at("ion.pressure")[1]));
  CHECK(log.values.at("ion.pressure")[2] == 3.5);
  // Wide, over many tiles and slabs: row i is bad where 7 divides it.
  plan::ChannelMap wide = some_map();
  wide.good_quality = {"192"};
  wide.columns = {column("P", "ion.pressure", "Pa")};
  wide.columns[0].quality = "Q";
  std::string text = "time,Q,P\n";
  for (int i = 0; i < 20'000; ++i)
    text += fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,{},{}\n", i / 3600, i / 60 % 60, i % 60,
                        i % 7 == 0 ? 24 : 192, i);
  const Outcome many = read(text, wide);
  REQUIRE(many.time.size() == 20'000);
  for (std::size_t i = 0; i < many.time.size(); ++i)
    REQUIRE((i % 7 == 0 ? std::isnan(many.values.at("ion.pressure")[i])
                        : many.values.at("ion.pressure")[i] == static_cast<double>(i)));
}

TEST_CASE("a sketch sees that columns of a status hold the quality of values, by what stands in them") {
  const std::string wide = sketch("time,P1 [Pa],P1 Status,Pump Status,U [V],U Status\n" + rows(30, [](int i) {
                                    return fmt::format("1,{},{},5,{}", i == 7 ? 0 : 192, i < 9 ? 3 : 4, 192);
                                  }));
  CHECK(holds(wide, "header = \"P1\"\nquality = \"P1 Status\"  # CONFIRM"));
  CHECK(holds(wide, "header = \"U\"\nquality = \"U Status\"  # CONFIRM"));
  CHECK(holds(wide,
              "good_quality = [\"192\"]  # CONFIRM: anything else in quality columns is \"no value\", such "
              "as \"0\""));
  CHECK(holds(wide, "# header = \"Pump Status\""));
  std::string rows_of_tags = "time,tag,value,status\n";
  for (int i = 0; i < 30; ++i)
    rows_of_tags += fmt::format("2031-03-04T05:06:{:02}Z,{},1.5,{}\n", i, i % 2 == 0 ? "P" : "U",
                                i == 4 ? "Bad" : "Good");
  CHECK(holds(sketch(rows_of_tags), "quality_column = \"status\"  # CONFIRM"));
}
