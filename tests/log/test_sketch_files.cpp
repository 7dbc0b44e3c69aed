// First channel maps for logs of several files.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

TEST_CASE("one map for the files of several devices, and for files that follow each other") {
  const plan::Plan plant = some_plant();
  const std::string header = "time,Tag name,Value,Unit\n";
  const auto tag = [&](const char* cells) { return rows(30, [&](int) { return cells; }); };
  const auto one = write("one.csv", header + tag("ion.pressure,1,Pa"));
  const auto two = write("two.csv", header + tag("run.step,coat,"));
  const auto next = write("next.csv", header + tag("argon.flow,250,sccm") + tag("ion.pressure,2,Pa"));
  const auto sketched = sketch_map({one, two, next}, &plant);
  REQUIRE(sketched.ok());
  const std::string& map = sketched.value().map;
  CHECK(holds(map, "# First channel map for one.csv, two.csv, next.csv.\n"));
  CHECK(holds(map, "# Looked at in two.csv: 30 rows, all there are.\n"));
  CHECK(holds(map, "channel_column = \"Tag name\"  # CONFIRM"));
  CHECK(holds(map, "channel = \"ion.pressure\"\nunit = \"Pa\""));
  CHECK(holds(map, "channel = \"argon.flow\"\nunit = \"sccm\""));
  CHECK(holds(map, "header = \"run.step\"\nchannel = \"run.step\""));
  CHECK(!holds(map, "another way"));
  const auto source = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), map);
  };
  const auto loaded = plan::load_channels("channels.toml", plant, source);
  REQUIRE(loaded.ok());
  const Outcome log = read_files({one, two}, loaded.value());
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.time.size() == 30);
  CHECK(log.values.at("ion.pressure")[29] == 1);
  CHECK(log.texts.at("run.step")[0] == "coat");
}

TEST_CASE(
    "files of one sketch: marks that only one of them shows are of all, another way of writing is told") {
  const auto apart = [](const std::string& header, const std::string& value) {
    std::string out = header + "\n";
    for (int i = 0; i < 20; ++i) out += fmt::format("2031-03-04T05:06:{:02}Z;{}{}\n", i, value, i);
    return out;
  };
  const auto plain = write("plain.csv", apart("time;Ion [Pa]", "1"));
  const auto marked = write("marked.csv", apart("time;W\u00e4rme [degC]", "20,"));
  const auto sketched = sketch_map({plain, marked});
  REQUIRE(sketched.ok());
  CHECK(holds(sketched.value().map, "delimiter = \";\"\ndecimal = \",\"  # CONFIRM\n"));
  CHECK(holds(sketched.value().map, "header = \"W\u00e4rme\""));
  CHECK(!holds(sketched.value().map, "another way"));
  const auto other = write("other.csv", "t [s],Ion [Pa]\n0,1\n1,1\n2,1\n3,1\n");
  const auto two = sketch_map({plain, other});
  REQUIRE(two.ok());
  CHECK(holds(
      two.value().map,
      "# STATE: other.csv is written in another way than plain.csv, and a map is for files that are written "
      "alike:\n# export both alike. By itself it would have\n#   [file]\n#   delimiter = \",\"\n#   [time]\n"
      "#   column = \"t [s]\""));
}

TEST_CASE(
    "files of one run that follow each other: another column, another order, another unit, named anyhow") {
  const auto file = [](const char* name, const std::string& header, int minute, const std::string& cells) {
    std::string text = header + "\n";
    for (int s = 0; s < 20; ++s) {
      std::string row = cells;
      row.replace(row.find("time"), 4, fmt::format("2031-03-04T05:{:02}:{:02}Z", minute, s));
      text += row + "\n";
    }
    return write(name, text);
  };
  const auto first = file("1.csv", "time,P1 [Pa],T1 [degC]", 1, "time,5,20");
  const auto second = file("2.csv", "T1 [degC],time,P1 [Pa],Flow [sccm],note", 2, "21,time,OFF,250,x");
  const auto third = file("3.csv", "time,P1 [mbar],T1 [degC],Flow [sccm]", 3, "time,0.07,22,251");
  for (const auto& files :
       {std::vector{first, second, third}, {third, first, second}, {first, third, second}}) {
    const auto sketched = sketch_map(files);
    REQUIRE(sketched.ok());
    const std::string& map = sketched.value().map;
    INFO(map);
    CHECK(!holds(map, "two columns"));
    CHECK(!holds(map, "another way"));
    for (const char* name : {"P1", "T1", "Flow"}) {
      const std::string line = fmt::format("header = \"{}\"\n", name);
      CHECK(holds(map, line));
      CHECK(map.find(line) == map.rfind(line));
    }
    CHECK(holds(map, "bad_texts = [\"OFF\"]"));
    CHECK(holds(map, "# in 60 rows: 20 to 22\n"));
    CHECK(holds(map, "# in 40 rows: 250 to 251\n"));
  }
  // At the same time they are of two devices, whose columns need two names.
  const auto beside = file("4.csv", "time,P1 [Pa],Flow [sccm]", 1, "time,9,250");
  const auto both = sketch_map({first, beside});
  REQUIRE(both.ok());
  CHECK(holds(both.value().map, "two columns are called \"P1\""));
}

TEST_CASE("files of one sketch: what one shows of the order of day and month holds for all") {
  const auto file = [](const char* name, const char* day) {
    std::string text = "time,P1 [Pa]\n";
    for (int s = 0; s < 20; ++s) text += fmt::format("{} 05:06:{:02},5\n", day, s);
    return write(name, text);
  };
  const auto both_ways = file("1.csv", "03/04/2031"), month = file("2.csv", "03/25/2031"),
             day = file("3.csv", "25/03/2031");
  for (const auto& files : {std::vector{both_ways, month}, {month, both_ways}}) {
    const auto sketched = sketch_map(files);
    REQUIRE(sketched.ok());
    CHECK(holds(sketched.value().map, "format = \"%m/%d/%Y %H:%M:%S\"  # CONFIRM"));
    CHECK(!holds(sketched.value().map, "another way"));
  }
  CHECK(holds(sketch_map({both_ways, month}).value().map, "# CONFIRM: month first, as 2.csv shows\n"));
  CHECK(holds(sketch_map({both_ways, day}).value().map,
              "format = \"%d/%m/%Y %H:%M:%S\"  # CONFIRM: day first, as 3.csv shows\n"));
  CHECK(holds(sketch_map({day, month}).value().map, "2.csv is written in another way than 3.csv"));
  CHECK(holds(sketch_map({both_ways}).value().map, "day first; month first reads as well"));
}

TEST_CASE(
    "files of one sketch that write numbers differently are told, also where the first shows no mark of its "
    "own") {
  const auto apart = [](const std::string& value) {
    std::string out = "time;Ion [Pa];P [Pa]\n";
    for (int i = 0; i < 20; ++i) out += fmt::format("2031-03-04T05:06:{:02}Z;{};{}\n", i, value, value);
    return out;
  };
  const auto comma = write("comma.csv", apart("1,5")), point = write("point.csv", apart("1.230"));
  for (const auto& files : {std::vector{comma, point}, std::vector{point, comma}}) {
    const auto both = sketch_map(files);
    REQUIRE(both.ok());
    CHECK(holds(both.value().map, "is written in another way"));
    CHECK(holds(both.value().map, "decimal = \",\""));
  }
}

TEST_CASE("files of one run whose preambles are of different lengths are of one run") {
  const auto file = [](const char* name, const std::string& preamble, int minute) {
    std::string text = preamble + "time,ion.pressure [Pa],argon.flow [sccm]\n";
    for (int s = 0; s < 20; ++s) text += fmt::format("2031-03-04T05:{:02}:{:02}Z,1,2\n", minute, s);
    return write(name, text);
  };
  const auto both = sketch_map({file("1.csv", "Export\nby hand\n", 1), file("2.csv", "Export\n", 2)});
  CHECK(holds(both.value().map,
              "preamble_lines = 2  # CONFIRM: 2.csv has 1; its header is found by its names\n"));
  CHECK(!holds(both.value().map, "another way"));
}

TEST_CASE("a text that the files of several devices share is sketched once") {
  const auto file = [](const char* name, const std::string& headers) {
    std::string text = "time,Phase," + headers + "\n";
    for (int s = 0; s < 20; ++s) text += fmt::format("2031-03-04T05:06:{:02}Z,pump,{},{},{}\n", s, s, s, s);
    return write(name, text);
  };
  const auto both = sketch_map({file("1.csv", "A [Pa],B [Pa],C [Pa]"), file("2.csv", "D [kW],E [V],F [A]")});
  CHECK(!holds(both.value().map, "two columns"));
  CHECK(holds(both.value().map, "[steps]\ncolumn = \"Phase\""));
}
