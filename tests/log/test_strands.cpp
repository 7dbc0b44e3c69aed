// Logs of several lines of time: one file for each device, columns with stamps of their own.
#include <fmt/format.h>

#include <cmath>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

using Said = std::vector<std::string>;
constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

std::string stamp(double seconds) {
  return to_rfc3339(
      Instant{1'930'367'167'000'000'000 + static_cast<std::int64_t>(seconds * 1e3) * 1'000'000});
}

// `n` rows, `distance` seconds apart from `from` on, of the number of the row.
std::string rows(const std::string& header, int n, double from, double distance, double first = 0) {
  std::string out = header + "\n";
  for (int i = 0; i < n; ++i) out += fmt::format("{},{}\n", stamp(from + i * distance), first + i);
  return out;
}

bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); });
}

}  // namespace

TEST_CASE("one file for each device: a row for every stamp, values stand between their own") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 4, 0, 1, 10));
  const auto supply = write("supply.csv", rows("time,dc.power [W]", 4, 0.4, 1, 20));
  for (const auto& files : {std::vector{gauge, supply}, std::vector{supply, gauge}}) {
    const Outcome log = read_files(files);
    REQUIRE(log.opened);
    CHECK(log.warnings == Said{});
    REQUIRE(log.time.size() == 8);
    CHECK(to_rfc3339(log.time[1]) == stamp(0.4));
    CHECK(log.line == std::vector<std::uint64_t>{2, 2, 3, 3, 4, 4, 5, 5});
    for (std::size_t r = 0; r < 8; ++r) {
      const std::string& file = log.header.files.at(static_cast<std::size_t>(log.file[r]));
      CHECK(file.ends_with(r % 2 == 0 ? "gauge.csv" : "supply.csv"));
    }
    CHECK(same(log.values.at("ion.pressure"), {10, 10, 11, 11, 12, 12, 13, 13}));
    CHECK(same(log.values.at("dc.power"), {nan_value, 20, 20, 21, 21, 22, 22, 23}));
    CHECK(log.breaks.empty());
    CHECK(log.tally.rows == 8);
    CHECK(log.tally.period.value() == 1);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::missing_cell)] == 1);
    REQUIRE(log.said.size() == 1);
    CHECK(log.said[0].ends_with("line 2 dc.power: missing cell: its log begins 0.4 s after the others"));
  }
}

TEST_CASE("of devices that log together the rows are one, and texts change where theirs do") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 3, 0, 1, 10));
  const auto plant = write(
      "plant.csv", "time,plant.state\n" + stamp(0) + ",off\n" + stamp(1) + ",on\n" + stamp(2) + ",on\n");
  const Outcome log = read_files({gauge, plant});
  CHECK(log.said == Said{});
  CHECK(log.time.size() == 3);
  CHECK(same(log.values.at("ion.pressure"), {10, 11, 12}));
  CHECK(log.texts.at("plant.state") == std::vector<std::string>{"off", "on", "on"});
}

TEST_CASE("loggers that scan together and stamp a little apart give one row a scan, without a value lost") {
  std::vector<std::filesystem::path> files;
  for (int i = 0; i < 5; ++i) {
    const int every = i % 2 == 0 ? 1 : 2;
    files.push_back(write(fmt::format("scan-{}.csv", i),
                          rows(fmt::format("time,g{}.pressure [Pa]", i), 400 / every, i * 0.05, every)));
  }
  const Outcome log = read_files(files);
  CHECK(log.said == Said{});
  REQUIRE(log.time.size() == 400);
  for (std::size_t i = 0; i < 400; ++i) {
    CHECK(to_rfc3339(log.time[i]) == stamp(static_cast<double>(i) + 0.2));
    CHECK(log.values.at("g0.pressure")[i] == static_cast<double>(i));
    CHECK(log.values.at("g4.pressure")[i] == static_cast<double>(i));
    CHECK(log.values.at("g3.pressure")[i] == static_cast<double>(i / 2));
  }
}

TEST_CASE("a gap of one device is its own: its values end, the others' go on, and the rows are broken") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 20, 0, 1));
  const std::string power = "time,dc.power [W]";
  const auto supply =
      write("supply.csv", rows(power, 6, 0, 1) + rows(power, 6, 14, 1).substr(power.size() + 1));
  const Outcome log = read_files({gauge, supply});
  REQUIRE(log.time.size() == 20);
  const auto& watts = log.values.at("dc.power");
  CHECK(watts[5] == 5);
  CHECK(watts[6] == 5);  // 1 s after its last row: as before
  for (std::size_t i = 7; i < 14; ++i) CHECK(std::isnan(watts[i]));
  CHECK(watts[14] == 0);
  CHECK(log.breaks == std::vector<std::size_t>{14});
  CHECK(log.values.at("ion.pressure")[10] == 10);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::gap)] == 1);
}

TEST_CASE("strands that come back from one gap shortly after each other have one row there") {
  const auto log_of = [](const std::string& header, double offset) {
    return rows(header, 10, offset, 1, 100) + rows(header, 10, 30 + offset, 1, 200).substr(header.size() + 1);
  };
  const Outcome log = read_files({write("gauge.csv", log_of("time,ion.pressure [Pa]", 0)),
                                  write("supply.csv", log_of("time,dc.power [W]", 0.3)),
                                  write("optic.csv", log_of("time,optic.angle [rad]", 0.7))});
  REQUIRE(log.breaks.size() == 1);
  const std::size_t back = log.breaks[0];
  CHECK(to_rfc3339(log.time[back]) == stamp(30.7));
  for (const char* channel : {"ion.pressure", "dc.power", "optic.angle"}) {
    CHECK(log.values.at(channel)[back] == 200);
    CHECK(log.values.at(channel)[back - 1] == 109);
    CHECK(log.values.at(channel)[back + 3] == 201);
  }
  CHECK(log.time.size() == 58);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::gap)] == 3);
}

TEST_CASE("files that follow each other do so beside those of another device") {
  const auto a = write("gauge-1.csv", rows("time,ion.pressure [Pa]", 3, 0, 1));
  const auto b = write("gauge-2.csv", rows("time,ion.pressure [mbar]", 3, 3, 1));
  const auto c = write("supply.csv", rows("time,dc.power [W]", 6, 0, 1));
  const Outcome log = read_files({b, c, a});
  REQUIRE(log.time.size() == 6);
  CHECK(same(log.values.at("ion.pressure"), {0, 1, 2, 0, 100, 200}));
  CHECK(log.header.files.size() == 3);
}

namespace {

plan::ChannelMap long_map() {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.long_channel_column = "tag";
  map.long_value_column = "value";
  map.columns = {column("P", "ion.pressure", "Pa"), column("W", "dc.power", "W"), column("S", "plant.state")};
  return map;
}

// `n` rows of one tag, a second apart from `from` on.
std::string tag_rows(const std::string& tag, int n, double from, int first = 0) {
  std::string out;
  for (int i = 0; i < n; ++i) out += fmt::format("{},{},{}\n", stamp(from + i), tag, first + i);
  return out;
}

}  // namespace

TEST_CASE("long files, one for each device, run side by side") {
  const std::string header = "time,tag,value\n";
  const auto gauge = write("gauge.csv", header + tag_rows("P", 4, 0, 10));
  const auto supply = write("supply.csv", header + tag_rows("W", 4, 0, 20));
  const auto plant = write("plant.csv", header + stamp(0) + ",S,off\n" + stamp(2) + ",S,on\n");
  const auto other = write("other.csv", header + tag_rows("heater", 4, 0));
  const Outcome log = read_files({supply, other, plant, gauge}, long_map());
  REQUIRE(log.opened);
  REQUIRE(log.warnings.size() == 1);
  CHECK(
      log.warnings[0] ==
      "no-channels: no row of this file is about a channel of the channel map; the first is about 'heater'");
  CHECK(log.said == Said{});
  REQUIRE(log.time.size() == 4);
  CHECK(same(log.values.at("ion.pressure"), {10, 11, 12, 13}));
  CHECK(same(log.values.at("dc.power"), {20, 21, 22, 23}));
  CHECK(log.texts.at("plant.state") == std::vector<std::string>{"off", "off", "on", "on"});
}

TEST_CASE("long files, one for each device: steps come from the file that has them") {
  const std::string header = "time,tag,value\n";
  const auto gauge = write("gauge.csv", header + tag_rows("P", 4, 0, 10));
  const auto plant = write("plant.csv", header + stamp(0) + ",phase,coat\n" + stamp(2) + ",phase,cool\n");
  plan::ChannelMap map = long_map();
  map.columns.resize(1);
  map.step_column = "phase";
  const Outcome log = read_files({gauge, plant}, map);
  REQUIRE(log.opened);
  CHECK(log.warnings == Said{});
  CHECK(log.after.empty());
  CHECK(log.header.channels.size() == 2);
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"coat", "coat", "cool", "cool"});
}

TEST_CASE("long files with a channel in common follow each other, wherever its first row stands") {
  const int late = 8000;  // beyond what is looked at first
  const std::string header = "time,tag,value\n";
  const auto first = write("first.csv", header + tag_rows("P", 3, 0, 10));
  const auto second = write("second.csv", header + tag_rows("W", late, 3) + tag_rows("P", 2, 3 + late, 13));
  const auto beside = write("beside.csv", header + stamp(0) + ",S,off\n" + stamp(4) + ",S,on\n");
  const Outcome log = read_files({second, beside, first}, long_map());
  REQUIRE(log.opened);
  CHECK(log.warnings == Said{});
  REQUIRE(log.time.size() == late + 5);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::joined_export)] == 0);
  CHECK(log.values.at("ion.pressure")[2] == 12);
  CHECK(log.values.at("ion.pressure").back() == 14);
  CHECK(log.values.at("dc.power")[3] == 0);
  CHECK(log.texts.at("plant.state")[3] == "off");
  CHECK(log.texts.at("plant.state")[4] == "on");
}

TEST_CASE("a log that ends before the others says so") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 30, 0, 1));
  const auto supply = write("supply.csv", rows("time,dc.power [W]", 10, 0, 1));
  const Outcome log = read_files({gauge, supply});
  REQUIRE(log.said.size() == 1);
  CHECK(log.said[0].ends_with("line 11 dc.power: missing cell x19: its log ends 20 s before the others"));
  CHECK(std::isnan(log.values.at("dc.power").back()));
}

TEST_CASE("on change a device's value stands until its next row") {
  plan::ChannelMap map = some_map();
  map.logging = plan::Logging::on_change;
  map.delimiter = '\0';
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 30, 0, 1));
  const auto supply = write("supply.csv", rows("time,dc.power [W]", 2, 0, 20, 5));
  const Outcome log = read_files({gauge, supply}, map);
  REQUIRE(log.time.size() == 30);
  CHECK(log.values.at("dc.power")[19] == 5);
  CHECK(log.values.at("dc.power")[29] == 6);
}

TEST_CASE("many blocks of several devices: every row and text is there, at any cut") {
  std::string plant = "time,plant.state\n";
  for (int i = 0; i < 30'000; ++i) plant += fmt::format("{},{}\n", stamp(i * 0.5), i / 7000);
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 60'000, 0, 0.25));
  const Outcome log = read_files({gauge, write("plant.csv", plant)});
  REQUIRE(log.time.size() == 60'000);
  CHECK(log.said == Said{});
  for (std::size_t i = 0; i < log.time.size(); ++i) {
    REQUIRE(log.values.at("ion.pressure")[i] == static_cast<double>(i));
    REQUIRE(log.texts.at("plant.state")[i] == std::to_string(i / 2 / 7000));
  }
}

TEST_CASE("an empty file among others is passed over with a warning, alone it is none") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 3, 0, 1));
  const auto empty = write("empty.csv", "");
  const auto header = write("header.csv", "time,ion.pressure [Pa]\n");
  std::map<std::string, std::string> received;
  Options options;
  options.received = [&](const std::filesystem::path& file, std::string_view bytes) {
    received[file.filename().string()] += bytes;
  };
  const Outcome log = read_files({empty, gauge, header}, {}, options);
  CHECK(log.opened);
  CHECK(log.time.size() == 3);
  CHECK(log.warnings == Said{"empty-log: the log is empty", "empty-log: the log has a header and no rows"});
  CHECK(received["header.csv"] == "time,ion.pressure [Pa]\n");
  CHECK(read_files({empty, header}).failures ==
        Said{"empty-log: the log is empty", "empty-log: the log has a header and no rows"});
}

TEST_CASE("every byte of every file is received once") {
  const std::string one = rows("time,ion.pressure [Pa]", 3000, 0, 1);
  const std::string two = rows("time,ion.pressure [Pa]", 3000, 3000, 1);
  const std::string other = rows("time,dc.power [W]", 3000, 0, 1);
  std::map<std::string, std::string> received;
  Options options;
  options.received = [&](const std::filesystem::path& file, std::string_view bytes) {
    received[file.filename().string()] += bytes;
  };
  const std::vector files = {write("two.csv", two), write("one.csv", one), write("other.csv", other)};
  CHECK(read_files(files, {}, options).opened);
  CHECK(received["one.csv"] == one);
  CHECK(received["two.csv"] == two);
  CHECK(received["other.csv"] == other);
  received.clear();
  options.wanted = {"dc.power"};  // the others are not read, and still received
  CHECK(read_files(files, {}, options).header.channels.size() == 1);
  CHECK(received["one.csv"] == one);
  CHECK(received["other.csv"] == other);
}

TEST_CASE("columns with stamps of their own, of different lengths") {
  plan::ChannelMap map = some_map();
  map.columns = {column("P", "ion.pressure", "Pa"), column("U", "dc.power", "W")};
  map.columns[0].time = "P Time";
  map.columns[1].time = "U Time";
  std::map<std::string, std::string> received;
  Options options;
  options.received = [&](const std::filesystem::path& file, std::string_view bytes) {
    received[file.filename().string()] += bytes;
  };
  const std::string text = "P Time,P,U Time,U\n" + stamp(0) + ",1," + stamp(0.5) + ",10\n" + stamp(1) +
                           ",2," + stamp(1.5) + ",20\n" + stamp(2) + ",3,,\n";
  const Outcome log = read(text, map, options);
  REQUIRE(log.opened);
  CHECK(log.failures == Said{});
  CHECK(log.warnings == Said{});
  REQUIRE(log.time.size() == 5);
  CHECK(same(log.values.at("ion.pressure"), {1, 1, 2, 2, 3}));
  CHECK(same(log.values.at("dc.power"), {nan_value, 10, 10, 20, 20}));
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::unreadable_time)] == 0);
  CHECK(log.tally.bytes == text.size());
  CHECK(received["log.csv"] == text);
}

TEST_CASE(
    "columns with stamps of their own beside columns that need no map, some of them not wanted or missing") {
  plan::ChannelMap map = some_map();
  map.time_column = "time";
  map.columns = {column("U", "dc.voltage", "V"), column("W", "dc.power", "W"),
                 column("I", "dc.current", "A")};
  for (plan::Column& each : map.columns) each.time = "own";
  map.step_column = "Step";
  map.step_time = "own";
  const std::string text = "time,ion.pressure [Pa],own,U,W,Step\n" + stamp(0) + ",1," + stamp(0.5) +
                           ",10,100,a\n" + stamp(1) + ",2," + stamp(1.5) + ",20,200,b\n";
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  CHECK(log.warnings ==
        Said{"missing-column: the channel map's column 'I' is not in the log '" + log.header.file + "'"});
  CHECK(log.header.unmapped.empty());
  CHECK(log.header.channels.size() == 4);  // each once
  REQUIRE(log.time.size() == 4);
  CHECK(same(log.values.at("ion.pressure"), {1, 1, 2, 2}));
  CHECK(same(log.values.at("dc.power"), {nan_value, 100, 100, 200}));
  Options options;
  options.wanted = {"dc.power", "run.step"};
  const Outcome two = read(text, map, options);
  REQUIRE(two.opened);
  CHECK(two.header.channels.size() == 2);
  CHECK(two.time.size() == 2);
  options.wanted = {"ion.pressure"};
  CHECK(read(text, map, options).header.channels.size() == 1);
}

TEST_CASE("a damaged file among several devices' says so, also if none of its rows could be read") {
  const auto gauge = write("gauge.csv", rows("time,ion.pressure [Pa]", 10, 0, 1));
  const std::string other = "time,dc.power [W]\ntime,dc.power [kW]\n" + stamp(1) + ",1\n";
  const Outcome log = read_files({gauge, write("supply.csv", other)});
  CHECK(log.after.find("[second-header]") != std::string::npos);
}

TEST_CASE("time columns of one name: each column has the one before it; a value without a stamp is told") {
  plan::ChannelMap map = some_map();
  map.columns = {column("P", "ion.pressure", "Pa"), column("U", "dc.power", "W")};
  map.columns[0].time = map.columns[1].time = "Time";
  map.step_column = "Step";
  const Outcome log = read("Time,P,Time,U,Step\n" + stamp(0) + ",1," + stamp(10) + ",10,a\n" + stamp(1) +
                               ",2,,20,a\n" + stamp(2) + ",3," + stamp(12) + ",30,b\n",
                           map);
  REQUIRE(log.opened);
  const auto& watts = log.values.at("dc.power");
  REQUIRE(log.time.size() == 5);
  CHECK(to_rfc3339(log.time[4]) == stamp(12));
  CHECK(watts[4] == 30);
  CHECK(same({log.values.at("ion.pressure").begin(), log.values.at("ion.pressure").begin() + 3}, {1, 2, 3}));
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"a", "a", "b", "b", "b"});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::unreadable_time)] == 1);
}

TEST_CASE("a column's own time that is not in the log, and one that nothing can be read of") {
  plan::ChannelMap map = some_map();
  map.columns = {column("P", "ion.pressure", "Pa")};
  map.columns[0].time = "When";
  CHECK(read("Time,P\n" + stamp(0) + ",1\n", map).failures ==
        Said{"missing-column: the channel map's time column 'When' is not in the log"});
  CHECK(read("When,P\nsoon,1\n", map).failures ==
        Said{"unusable-time: the time column 'When' cannot be read: found 'soon', expected RFC 3339 such as "
             "2031-03-04T05:06:07.250Z"});
}

TEST_CASE("files for each device that share a text only run side by side, and the text is read from one") {
  const auto with_step = [](const std::string& header, int n, double from, double first) {
    std::string out = "time,run.step," + header + "\n";
    for (int i = 0; i < n; ++i)
      out += fmt::format("{},{},{}\n", stamp(from + i), i < n / 2 ? "pump" : "coat", first + i);
    return out;
  };
  const auto gauge = write("gauge.csv", with_step("ion.pressure [Pa]", 10, 0, 10));
  const auto supply = write("supply.csv", with_step("dc.power [W]", 10, 0, 20));
  plan::ChannelMap map = some_map();
  map.step_column = "run.step";
  for (const plan::ChannelMap& each : {plan::ChannelMap{}, map}) {
    const Outcome log = read_files({gauge, supply}, each);
    CHECK(log.failures == Said{});
    CHECK(log.warnings == Said{"shared-channel: 'run.step' is in several files that were written at the same "
                               "time; it is read from '" +
                               supply.string() + "' alone"});
    REQUIRE(log.time.size() == 10);
    CHECK(log.said == Said{});
    CHECK(log.values.at("ion.pressure").back() == 19);
    CHECK(log.values.at("dc.power").back() == 29);
    CHECK(log.texts.at("run.step").front() == "pump");
    CHECK(log.texts.at("run.step").back() == "coat");
  }
  // One behind the other they are one log.
  const auto later = write("later.csv", with_step("dc.power [W]", 10, 20, 20));
  const Outcome log = read_files({gauge, later});
  CHECK(log.warnings.size() == 1);  // the power is not in the first file
  CHECK(log.texts.at("run.step").size() == 20);
}
