// First channel maps for unknown exports: guesses are marked, units are never guessed.
#include <fmt/format.h>

#include "log/sketch.hpp"
#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::string sketch(const std::string& bytes) {
  auto result = sketch_map(write("export.txt", bytes));
  return result.ok() ? result.value().map : to_text(result.diagnostics());
}

bool holds(const std::string& map, const std::string& text) { return map.find(text) != std::string::npos; }

plan::Plan some_plant() {
  plan::Plan plant;
  plant.chamber.reference = GasReference::usual();
  for (const char* name : {"ion", "pirani", "manometer"}) {
    plant.chamber.gauges.emplace_back();
    plant.chamber.gauges.back().name.value = name;
  }
  for (const char* name : {"argon", "oxygen", "nitrogen"}) {
    plant.chamber.gas_lines.emplace_back();
    plant.chamber.gas_lines.back().name.value = name;
  }
  plant.chamber.supplies.emplace_back();
  plant.chamber.supplies.back().name.value = "supply";
  plant.chamber.cathodes.emplace_back();
  plant.chamber.cathodes.back().name.value = "cathode";
  return plant;
}

// What a person puts into a sketch: the first text becomes the second.
using Stated = std::vector<std::pair<std::string, std::string>>;

// What the reader makes of a log with the sketch of it as its map.
Outcome read_with_its_sketch(const std::string& bytes, const Stated& stated = {}) {
  const plan::Plan plant = some_plant();
  const auto file = write("export.txt", bytes);
  const auto failed = [](const Diagnostics& why) {
    Outcome out;
    out.failures = {to_text(why)};
    return out;
  };
  const auto sketched = sketch_map(file, &plant);
  if (!sketched.ok()) return failed(sketched.diagnostics());
  std::string map = sketched.value().map;
  for (const auto& answer : stated) {
    const std::size_t at = map.find(answer.first);
    REQUIRE_MESSAGE(at != std::string::npos, answer.first << " is not in\n" << map);
    map.replace(at, answer.first.size(), answer.second);
  }
  const auto source = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), map);
  };
  const auto loaded = plan::load_channels("channels.toml", plant, source);
  if (!loaded.ok()) return failed(loaded.diagnostics());
  return read_files({file}, loaded.value());
}

std::vector<std::string> failures_with_its_sketch(const std::string& bytes) {
  return read_with_its_sketch(bytes).failures;
}

// Rows a second apart from 2031-03-04T00:00:00Z on, as `cells` gives them for each.
template <class F>
std::string rows(int n, F cells) {
  std::string out;
  for (int i = 0; i < n; ++i)
    out += fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,{}\n", i / 3600, i / 60 % 60, i % 60, cells(i));
  return out;
}

}  // namespace

TEST_CASE("an export with preamble, units line, decimal comma, two time columns and texts among numbers") {
  const std::string map = sketch(
      "Trend export\r\nOperator;x\r\n\r\nDatum;Zeit;Druck 1;Flow [sccm];T1;Phase;Ventil\r\n;;mbar;;;;\r\n"
      "04.03.2031;05:06:07;1,5e-3;250,5;20,1;Pumpen;auf\r\n04.03.2031;05:06:08;OFF;250,4;20,2;Pumpen;auf\r\n"
      "04.03.2031;05:06:09;1,4e-3;250,5;20,1;Pumpen;zu\r\n04.03.2031;05:06:10;1,4e-3;250,5;20,1;Pumpen;"
      "zu\r\n");
  CHECK(map == R"(# First channel map for export.txt.
# CONFIRM marks a guess, STATE what only a person can know.
# Looked at: 4 rows, all there are.

format = "vacuary-channels 1"

[file]
delimiter = ";"
decimal = ","  # CONFIRM
preamble_lines = 3  # CONFIRM
units_line = true  # CONFIRM

[time]
column = "Zeit"  # CONFIRM
date_column = "Datum"  # CONFIRM
form = "local"  # CONFIRM
format = "%d.%m.%Y %H:%M:%S"  # CONFIRM: day first; month first reads as well
# zone = ""  # STATE the clock's time zone, such as "Europe/Madrid", or "UTC"

[logging]
mode = "periodic"  # CONFIRM: or "on_change", when silence means "as before"

[steps]
column = "Phase"  # CONFIRM
# names = { "Pumpen" = "" }  # STATE which step of the recipe each is, where the names differ

[[column]]
header = "Druck 1"
channel = "druck_1.pressure"  # CONFIRM: the device's name in the chamber file
# unit: "mbar" by the log itself
bad_texts = ["OFF"]  # CONFIRM: that these mean "no value"
# in 3 rows: 0.0014 to 0.0015

[[column]]
header = "Flow"
channel = "flow.flow"  # CONFIRM: the device's name in the chamber file
# unit: "sccm" by the log itself
# in 4 rows: 250.4 to 250.5

# [[column]]  # STATE what it is and its unit (the log says neither), then take the '#' away
# header = "T1"
# channel = "t1."
# unit = ""
# in 4 rows: 20.1 to 20.2

[[column]]
header = "Ventil"
channel = "ventil.state"  # CONFIRM: any name will do
# texts: auf, zu
)");
}

TEST_CASE("a map whose open lines were filled in reads the log") {
  std::string text =
      "Zeit;Ion gauge [mbar];T1 [\xB0"
      "C];Note\n";
  for (int s = 10; s < 40; ++s)
    text += fmt::format("04.03.2031 05:06:{};1,{}e-3;20,5;\"two\nlines\"\n", s, s);
  text += "Ende;;;\n30 Zeilen\n";
  const plan::Plan plant = some_plant();
  const auto sketched = sketch_map(write("export.txt", text), &plant);
  REQUIRE(sketched.ok());
  CHECK(sketched.value().to_state == 1);  // the zone
  const Outcome read = read_with_its_sketch(text, {{"# zone = \"\"", "zone = \"UTC\""}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.said == std::vector<std::string>{});
  CHECK(read.time.size() == 30);
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(0.11).epsilon(1e-12));
  CHECK(read.values.at("t1.temperature").front() == doctest::Approx(293.65).epsilon(1e-12));
}

TEST_CASE("units: at the end of a header they are marked, single letters only told, none is made up") {
  const std::string map = sketch(
      "time,P1_mbar,Pump A,Level,Q / sccm,P2 [Pax\n2031-03-04T05:06:07Z,1,2,3,4,5\n"
      "2031-03-04T05:06:08Z,1,2,3,4,5\n");
  CHECK(map.find("unit = \"[Pax\"") == std::string::npos);  // half a bracket makes no unit of it
  CHECK(map.find("unit = \"Pa\"") == std::string::npos);
  CHECK(map.find("unit = \"mbar\"  # CONFIRM: taken from the end of the header") != std::string::npos);
  CHECK(map.find("unit = \"sccm\"  # CONFIRM") != std::string::npos);
  CHECK(map.find("# unit = \"A\"") != std::string::npos);
  CHECK(map.find("\nunit = \"A\"") == std::string::npos);
  CHECK(map.find("# header = \"Level\"\n# channel = \"level.\"\n# unit = \"\"") != std::string::npos);
}

TEST_CASE("columns named as channels: an unknown unit is asked for, a number for \"no value\" is shown") {
  const std::string map = sketch(
      "time,ion.pressure [torr],pirani.pressure [mbar]\n2031-03-04T05:06:07Z,1e-5,-999\n"
      "2031-03-04T05:06:08Z,1e-5,3\n");
  CHECK(
      map.find(
          "# unit = \"\"  # STATE: \"torr\" in the log is no unit of it known here; did you mean 'Torr'?") !=
      std::string::npos);
  CHECK(map.find("header = \"pirani.pressure\"\nchannel = \"pirani.pressure\"\n# unit: \"mbar\" by the log "
                 "itself\n# bad_values = [-999]") != std::string::npos);
}

TEST_CASE("what looks like numbers and does not read as one is no state") {
  const std::string map =
      sketch(",,Ion P,Note\n2031-03-04T05:06:07Z,1,1e-5 mbar,101 325\n2031-03-04T05:06:08Z,2,2e-5 mbar,1\n");
  CHECK(map.find("STATE: its cells, such as \"1e-5 mbar\", begin like numbers") != std::string::npos);
  CHECK(map.find(".state") == std::string::npos);
}

TEST_CASE("long format: a tag that is a channel's name keeps the unit of its rows") {
  std::string text = "t,tag,val,unit\n";
  for (int s = 0; s < 9; ++s) {
    text += fmt::format("2031-03-04T05:06:0{}Z,ion.pressure,1e-5,mbar\n", s);
    text += fmt::format("2031-03-04T05:06:0{}Z,argon.flow,250,sccm\n", s);
  }
  const std::string map = sketch(text);
  CHECK(map.find("channel = \"ion.pressure\"\nunit = \"mbar\"  # by the log's column of units") !=
        std::string::npos);
}

TEST_CASE("long format, thousands marks in quotation marks, two columns of one name") {
  std::string rows = "time,tag,value,unit\n";
  for (int s = 0; s < 9; ++s)
    rows += fmt::format(
        "2031-03-04T05:06:0{0}Z,P1,{0}e-3,mbar\n2031-03-04T05:06:0{0}Z,S,coat,\n"
        "2031-03-04T05:06:0{0}Z,F1,25{0},sccm\n",
        s);
  const std::string map = sketch(rows);
  CHECK(map.find("channel_column = \"tag\"") != std::string::npos);
  CHECK(map.find("unit = \"sccm\"  # by the log's column of units") != std::string::npos);
  const std::string marks = sketch(
      "time,P [Pa],P [Pa]\n2031-03-04T05:06:07Z,\"1,013.5\",2\n"
      "2031-03-04T05:06:08Z,\"101,325.0\",2\n");
  CHECK(marks.find("thousands = \",\"  # CONFIRM") != std::string::npos);
  CHECK(marks.find("two columns are called \"P [Pa]\"") != std::string::npos);
}

TEST_CASE("a log without names, cells apart by something else, elapsed time in a unit of no form") {
  CHECK(sketch("2031-03-04T05:06:07Z,1\n2031-03-04T05:06:08Z,1\n").find("no line of names was found") !=
        std::string::npos);
  CHECK(holds(sketch("time p\n1 2\n1 2\n"), "apart by blanks, which is not read"));
  CHECK(holds(sketch("t (d),P [Pa]\n0.0,1\n0.5,1\n1.0,1\n"), "elapsed time in d is not read"));
}

TEST_CASE("time forms are found, and a date that reads two ways says so") {
  const auto form = [](const std::string& a, const std::string& b) {
    const std::string map = sketch("time,P [Pa]\n" + a + ",1\n" + b + ",1\n" + b + ",1\n");
    const std::size_t from = map.find("form = ");
    return map.substr(from, map.find("\n#", from) - from);
  };
  CHECK(form("2031-03-04T05:06:07Z", "2031-03-04T05:06:08Z").starts_with("form = \"rfc3339\""));
  CHECK(form("03/04/2031 05:06:07", "03/04/2031 05:06:08") ==
        "form = \"local\"  # CONFIRM\nformat = \"%d/%m/%Y %H:%M:%S\"  # CONFIRM: day first; month first "
        "reads as well");
  CHECK(form("03/14/2031 05:06:07", "03/14/2031 05:06:08") ==
        "form = \"local\"  # CONFIRM\nformat = \"%m/%d/%Y %H:%M:%S\"  # CONFIRM");
  CHECK(form("1930367167", "1930367168").starts_with("form = \"epoch_s\""));
  CHECK(form("1930367167000", "1930367168000").starts_with("form = \"epoch_ms\""));
  CHECK(form("47911.21258", "47911.21259").starts_with("form = \"spreadsheet_day\""));
  CHECK(form("1930367167000000000", "1930367168000000000").starts_with("form = \"epoch_ns\""));
  CHECK(form("0.0", "0.5").starts_with("form = \"elapsed_s\""));
  CHECK(form("0:00:00.5", "0:00:01").starts_with("form = \"elapsed_clock\""));
  CHECK(form("4 mars 2031 05:06:07", "4 mars 2031 05:06:08").starts_with("form = \"local\""));
  CHECK(form("2031-03-04 05:06:07+01", "2031-03-04 05:06:08+01").find("%z") != std::string::npos);
  CHECK(holds(sketch("t (min)|P [Pa]\n0.0|1\n0.5|1\n1.0|1\n"),
              "delimiter = \"|\"\n\n[time]\ncolumn = \"t (min)\"  # CONFIRM\nform = \"elapsed_min\"  # "
              "CONFIRM\n# start = "));
  CHECK(holds(sketch("t [ms],P [Pa]\n0,1\n500,1\n1000,1\n"), "form = \"elapsed_ms\""));
  CHECK(holds(sketch("t [h],P [Pa]\n0,1\n0.5,1\n1,1\n"), "form = \"elapsed_h\""));
}

TEST_CASE("encodings are found, and what is no table says so") {
  CHECK(sketch("time,P\xE4 [mbar]\n2031-03-04T05:06:07Z,1\n2031-03-04T05:06:08Z,1\n")
            .find("encoding = \"latin-1\"") != std::string::npos);
  CHECK(sketch("").find("the log is empty") != std::string::npos);
  CHECK(sketch("one line\n").find("no table was found") != std::string::npos);
}

TEST_CASE(
    "what comes late in a log is in its map: a shutter's second word, a step, a reading off the scale") {
  const std::string map =
      sketch("time,Shutter,Step,P [Pa]\n" + rows(9000, [](int i) {
               const char* step = i < 8000 ? "pump" : i < 8040 ? "coat" : "vent";
               return fmt::format("{},{},{}", i < 8000 ? "closed" : "open", step, i == 7000 ? 9.0 : 1.0);
             }));
  CHECK(holds(map, "# Looked at: 9000 rows, all there are.\n"));
  CHECK(holds(map, "states = { \"closed\" = 0, \"open\" = 1 }"));
  CHECK(holds(map, "\"pump\" = \"\", \"coat\" = \"\", \"vent\" = \"\""));
  CHECK(holds(map, "# in 9000 rows: 1 to 9\n"));
}

TEST_CASE("a tag that only comes late in a long log is in its map") {
  const std::string map =
      sketch("time,tag,value,unit\n" + rows(9000, [](int i) {
               return i > 8000 && i % 3 == 0
                          ? std::string("ion,1e-5,mbar")
                          : fmt::format("{},{}", i % 2 == 0 ? "Q,5" : "U,7", i % 2 == 0 ? "sccm" : "V");
             }));
  CHECK(holds(map, "header = \"ion\"\n"));
}

TEST_CASE("lines that are no rows say nothing of the columns: a header that comes again, a footer") {
  const std::string some = rows(30, [](int) { return "1,2"; });
  const std::string map =
      sketch("time,P [Pa],Q [sccm]\n" + some + "time,P [Pa],Q [sccm]\n" + some + "rows,10,ten\n");
  CHECK(holds(map, "# Looked at: 60 rows"));
  CHECK(!holds(map, "bad_texts"));
  CHECK(holds(map, "footer_lines = 1"));
}

TEST_CASE("of a very long log all of the beginning is looked at and pieces of the rest, and this is known") {
  const auto file = write("export.txt", "time,S\n" + rows(1000, [](int i) {
                                          return i == 700 ? "seen" : i == 600 ? "missed" : "usual";
                                        }));
  const auto beginning = read_beginning(file);
  const auto table = find_table(file, beginning.value());
  const auto time = find_time(table.value());
  REQUIRE(time.has_value());
  // A row has 27 bytes: rows 0 to 399 are looked at, then, about, 400 to 499, 700 to 799.
  const Effort effort{2700, 4, 3};
  const auto found = survey(file, "utf-8", table.value(), &*time, nullptr, effort);
  REQUIRE(found.ok());
  CHECK(found.value().pieces);
  CHECK(found.value().columns[1].words == std::vector<std::string>{"usual", "seen"});
  CHECK(found.value().rows > 550);
  CHECK(found.value().rows < 650);
  CHECK(found.value().end.back()[1] == "usual");
  const auto all = survey(file, "utf-8", table.value(), &*time, nullptr);
  CHECK(!all.value().pieces);
  CHECK(all.value().rows == 1000);
}

TEST_CASE("tags that are channels' names keep the unit that the log's column of units gives them") {
  const std::string map = sketch("time,tag,value,unit\n" + rows(60, [](int i) -> std::string {
                                   if (i % 3 == 0) return "ion.pressure,1e-5,mbar";
                                   return i % 3 == 1 ? "argon.flow,250,[sccm]" : "run.step,coat,";
                                 }));
  CHECK(holds(map, "channel = \"ion.pressure\"\nunit = \"mbar\"  # by the log's column of units\n"));
  CHECK(holds(map, "channel = \"argon.flow\"\nunit = \"sccm\"  # by the log's column of units\n"));
  CHECK(holds(map, "header = \"run.step\"\nchannel = \"run.step\"\n"));
}

TEST_CASE("a tag whose rows name two units is asked for") {
  const std::string map = sketch("time,tag,value,unit\n" + rows(60, [](int i) -> std::string {
                                   if (i % 2 == 0) return "argon.flow,250,sccm";
                                   return i < 40 ? "ion.pressure,1e-5,mbar" : "ion.pressure,1e-3,Pa";
                                 }));
  CHECK(holds(map,
              "channel = \"ion.pressure\"\n"
              "# unit = \"\"  # STATE: the log's column of units says \"mbar\" and \"Pa\"\n"));
}

TEST_CASE("columns without a name: the map loads, or the export is said to need one") {
  const std::vector<std::string> none;
  const std::string first = ",ion.pressure [mbar]\n" + rows(4, [](int) { return "1.5"; });
  CHECK(holds(sketch(first), "[time]\n# column: the first one, which has no name  # CONFIRM\nform ="));
  CHECK(failures_with_its_sketch(first) == none);

  const std::string empty =
      "time,ion.pressure [mbar],,pirani.pressure [Pa]\n" + rows(4, [](int) { return "1.5,,2"; });
  CHECK(holds(sketch(empty), "# column 3 has no name and nothing in it: it is not read\n"));
  CHECK(!holds(sketch(empty), "ignore"));
  CHECK(failures_with_its_sketch(empty) == none);

  const std::string full =
      "time,ion.pressure [mbar],,,pirani.pressure [Pa]\n" + rows(4, [](int) { return "1,7,on,2"; });
  CHECK(holds(sketch(full), "# column 3 has no name: it is not read\n# STATE whether it is wanted"));
  CHECK(holds(sketch(full), "# texts: on\n"));
  CHECK(failures_with_its_sketch(full) == none);

  const std::string later = sketch("ion.pressure [mbar],\n1,2031-03-04T05:06:07Z\n1,2031-03-04T05:06:08Z\n");
  CHECK(holds(later, "the line above the rows names 1 of 2 columns"));
  const std::string last = sketch("time,a [mbar],\n" + rows(4, [](int) { return "1.5,192"; }));
  CHECK(holds(last, "the line above the rows names 2 of 3 columns"));
  CHECK(holds(last, "name every column in that line of the export"));
}

TEST_CASE("dates and times of digits alone are read as such and never as seconds") {
  const auto pair = [](const char* date, int from) {
    std::string text = "Date,Time,P [Pa]\n";
    for (int s = 0; s < 5; ++s) text += fmt::format("{},{:06},1\n", date, from + s);
    return sketch(text);
  };
  const std::string digits =
      "Date,Time,P [Pa]\n20310304,06:00:00,1\n20310304,06:00:01,1\n20310304,06:00:02,1\n";
  CHECK(holds(sketch(digits),
              "column = \"Time\"  # CONFIRM\ndate_column = \"Date\"  # CONFIRM\nform = \"local\"  # "
              "CONFIRM\nformat = \"%Y%m%d %H:%M:%S\"  # CONFIRM\n"));
  CHECK(holds(pair("2031-03-04", 60055), "format = \"%Y-%m-%d %H%M%S\"  # CONFIRM\n"));
  CHECK(holds(pair("20310304", 160055), "format = \"%Y%m%d %H%M%S\"  # CONFIRM\n"));
  CHECK(holds(sketch("time,P [Pa]\n20310304060058,1\n20310304060059,1\n"),
              "format = \"%Y%m%d %H%M%S\"  # CONFIRM"));
  CHECK(holds(sketch("time,P [Pa]\n20310304 06:00:58,1\n20310304 06:00:59,1\n"),
              "format = \"%Y%m%d %H:%M:%S\"  # CONFIRM"));
}

TEST_CASE("times that cannot be read are left open, with what was seen, and become no channel") {
  const std::string clock = sketch("Time,P [Pa]\n060058,1\n060059,1\n060100,1\n");
  CHECK(holds(
      clock,
      "[time]\n# column = \"\"  # STATE: no column reads as a time; \"Time\" holds \"060059\"; a time of day "
      "is not read without its date\n"));
  CHECK(!holds(clock, "elapsed_s"));
  const std::string unknown = sketch("Date,Time,P [Pa]\n31063,06h00,1\n31063,06h01,1\n31063,06h02,1\n");
  CHECK(holds(unknown, "\"Time\" holds \"06h01\""));
  CHECK(holds(unknown, "# \"Time\" seems to hold times, such as \"06h01\": it is not read\n"));
  CHECK(!holds(unknown, ".state"));
  const std::string second = sketch(
      "time,Local,P [Pa]\n2031-03-04T05:06:07Z,04.03.2031 06:06:07,1\n"
      "2031-03-04T05:06:08Z,04.03.2031 06:06:08,1\n");
  CHECK(holds(second, "# \"Local\" seems to hold times, such as \"04.03.2031 06:06:08\": it is not read\n"));
}

TEST_CASE("columns named as channels: texts and numbers for \"no value\" are asked for") {
  const auto cell = [](int i, const char* odd, int at) { return i == at ? odd : "1.5"; };
  const std::string text =
      "time,ion.pressure [mbar],argon.flow [sccm],supply.arcs,supply.state\n" + rows(20, [&](int i) {
        const char* arcs = i == 3 ? "-9999" : i == 8 ? "9.9e37" : i == 9 ? "Bad" : "0";
        return fmt::format("{},{},{},{}", i == 4 ? "OVER" : cell(i, "---", 7), cell(i, "n/a", 5), arcs,
                           i == 2 ? "---" : "on");
      });
  const std::string map = sketch(text);
  CHECK(holds(map,
              "header = \"ion.pressure\"\nchannel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\n"
              "bad_texts = [\"OVER\", \"---\"]  # CONFIRM: that these mean \"no value\"\n"));
  CHECK(holds(map, "bad_texts = [\"n/a\"]  # CONFIRM"));
  CHECK(holds(map,
              "header = \"supply.arcs\"\nchannel = \"supply.arcs\"\nbad_texts = [\"Bad\"]  # CONFIRM: that "
              "these mean \"no value\"\n# bad_values = [-9999, 9.9e+37]  # STATE whether"));
  CHECK(!holds(map, "supply.state"));
  const Outcome read = read_with_its_sketch(text, {{"# bad_values", "bad_values"}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.tally.count[static_cast<std::size_t>(Oddity::unreadable_cell)] == 0);
  CHECK(read.tally.count[static_cast<std::size_t>(Oddity::bad_value)] == 6);
  CHECK(!holds(sketch("time,ion.pressure [mbar]\n" + rows(5, [](int) { return "1.5"; })), "[[column]]"));
}

TEST_CASE("all texts among numbers are listed, what the reader knows by itself is not") {
  const auto text = [](int words) {
    return "time,P [Pa]\n" + rows(200, [words](int i) {
             if (i == 3) return std::string("inf");
             if (i == 4) return std::string("NaN");
             return i < 100 || i >= 100 + words
                        ? std::string("1")
                        : fmt::format("fault {}", static_cast<char>('A' + (i - 100) % 26)) +
                              std::string(static_cast<std::size_t>(i - 100) / 26, '!');
           });
  };
  const std::string nine = sketch(text(9));
  CHECK(holds(nine, "\"fault H\", \"fault I\"]  # CONFIRM: that these mean \"no value\"\n"));
  CHECK(!holds(nine, "inf"));
  CHECK(!holds(nine, "NaN"));
  CHECK(holds(sketch(text(80)), "]  # CONFIRM: that these mean \"no value\"; there are others\n"));
}

TEST_CASE("cells that look like numbers and are none are told of, and are no texts for \"no value\"") {
  const std::string text = "time;P [Pa];ion.pressure [mbar];Q [sccm]\n" + [] {
    std::string out;
    for (int i = 0; i < 20; ++i)
      out += fmt::format("2031-03-04T05:06:{:02}Z;{};{};{}\n", i,
                         i == 4   ? "1.2.3"
                         : i == 5 ? "OFF"
                                  : "1.5",
                         i == 7 || i == 8 ? "12,5" : "2.5", i == 3 ? "5 sccm" : "7.5");
    return out;
  }();
  const std::string map = sketch(text);
  CHECK(holds(map,
              "bad_texts = [\"OFF\"]  # CONFIRM: that these mean \"no value\"\n"
              "# not read: 1 cell that looks like a number and is none, such as \"1.2.3\"\n"));
  CHECK(holds(map,
              "channel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\n"
              "# not read: 2 cells that look like numbers and are none, such as \"12,5\"\n"));
  CHECK(holds(map, "such as \"5 sccm\"\n"));
  CHECK(map.find("bad_texts", map.find("bad_texts") + 1) == std::string::npos);
  CHECK(!holds(map, "STATE: its cells"));
  // Wherever it stands, one damaged cell makes no column of times.
  const std::string middle =
      sketch("time,P [Pa]\n" + rows(21, [](int i) { return i == 10 ? "1.2.3" : "1"; }));
  CHECK(holds(middle, "channel = \"p.pressure\""));
  CHECK(!holds(middle, "seems to hold times"));
}

TEST_CASE("a column of numbers that mostly do not read is no state, whatever else is in it") {
  const std::string map = sketch("time,Ion,ion.pressure [mbar],Off [mbar]\n" + rows(30, [](int i) {
                                   const std::string bad = i < 12 ? "OFF" : fmt::format("1e-{} mbar", i);
                                   return fmt::format("{0},{0},{1}", bad, i < 20 ? "OFF" : "1e-5");
                                 }));
  CHECK(!holds(map, ".state"));
  CHECK(holds(
      map,
      "# [[column]]\n# STATE: its cells, such as \"1e-12 mbar\", begin like numbers and do not read as one: "
      "see the decimal and\n# thousands marks of [file], or export them without units and in another "
      "form\n# header = \"Ion\"\n# bad_texts = [\"OFF\"]"));
  CHECK(holds(
      map,
      "channel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\nbad_texts = [\"OFF\"]  # CONFIRM: "
      "that these mean \"no value\"\n# STATE: its cells, such as \"1e-12 mbar\""));
  // A gauge that is off most of the time is one all the same.
  CHECK(holds(map, "channel = \"off.pressure\""));
  // Words that begin with a number are words where the column is of words.
  const std::string steps = sketch(
      "time,Step,Note\n" + rows(30, [](int i) { return i < 15 ? "1 pump,90 nm film" : "2 coat,two coats"; }));
  CHECK(holds(steps, "\"1 pump\" = \"\", \"2 coat\" = \"\""));
}

TEST_CASE("columns that differ by their units only are both described and read") {
  const std::string text =
      "time,P1 [mbar],P1 [Pa],Flow (sccm),Flow (%),P1 (front),ion.pressure [Pa],P2 [Pa]\n" +
      rows(10, [](int) { return "2.5,3.5,120,60,on,4.5,5.5"; });
  const std::string map = sketch(text);
  CHECK(holds(map, "header = \"P1 [mbar]\"\nchannel = \"p1.pressure\""));
  CHECK(holds(map, "header = \"P1 [Pa]\"\nchannel = \"p1_2.pressure\""));
  CHECK(holds(map, "header = \"Flow (sccm)\"\nchannel = \"flow.flow\""));
  // A ratio that no shutter's name explains is not taken for a shutter's.
  CHECK(holds(
      map,
      "# [[column]]  # STATE what it is (\"%\" in the log does not say of what), then take the '#' away\n"
      "# header = \"Flow (%)\"\n# channel = \"flow.\"\n# unit: \"%\" by the log itself\n"));
  CHECK(holds(map, "header = \"P1 (front)\"\n"));
  CHECK(holds(map, "header = \"P2\"\n"));
  CHECK(!holds(map, "two columns"));
  const Outcome read =
      read_with_its_sketch(text, {{"p1.pressure", "pirani.pressure"},
                                  {"p1_2.pressure", "manometer.pressure"},
                                  {"p2.pressure", "chamber.pressure"},
                                  {"flow.flow", "argon.flow"},
                                  {"# [[column]]  # STATE what it is (\"%\"", "[[column]]  # (\"%\""},
                                  {"# header = \"Flow (%)\"", "header = \"Flow (%)\""},
                                  {"# channel = \"flow.\"", "channel = \"cathode.open\""}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.values.at("pirani.pressure").front() == doctest::Approx(250).epsilon(1e-12));
  CHECK(read.values.at("manometer.pressure").front() == doctest::Approx(3.5).epsilon(1e-12));
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(4.5).epsilon(1e-12));
  CHECK(read.values.at("chamber.pressure").front() == doctest::Approx(5.5).epsilon(1e-12));
  CHECK(read.values.at("cathode.open").front() == doctest::Approx(0.6).epsilon(1e-12));
  CHECK(read.values.at("argon.flow").front() > 0);
  CHECK(read.texts.at("p1_front.state").front() == "on");
}

TEST_CASE("a ratio is a shutter's only by its name") {
  const std::string map =
      sketch("time,Shutter 1 [%],Throttle [%],Valve_ppm\n" + rows(5, [](int) { return "50,50,50"; }));
  CHECK(holds(map, "header = \"Shutter 1\"\nchannel = \"shutter_1.open\""));
  CHECK(holds(map, "# header = \"Throttle\"\n# channel = \"throttle.\"\n"));
  CHECK(!holds(map, "\nchannel = \"valve"));
}

TEST_CASE("a column without brackets is no other column's name") {
  const std::string text =
      "time,Flow (sccm),Flow\n" + rows(10, [](int i) { return i < 2 ? "1.5,on" : "1.2.3,on"; });
  const Outcome read = read_with_its_sketch(text);
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.texts.at("flow.state").back() == "on");
  CHECK(read.header.channels.size() == 1);
}

TEST_CASE("two columns that are one channel by name: the second is another device's, which is to be stated") {
  const std::string text =
      "time,Ion gauge [mbar],ion.pressure [mbar],ion.pressure [Pa],optic.speed [rpm],optic.speed "
      "[deg/s],Pump [rpm]\n" +
      rows(10, [](int) { return "9,2.5,3.5,1,6,90000"; });
  const std::string map = sketch(text);
  CHECK(holds(
      map,
      "header = \"ion.pressure [Pa]\"\nchannel = \"ion_2.pressure\"  # STATE which device it is: another "
      "column is ion.pressure\n"));
  CHECK(holds(map, "ignore = [\"optic.speed [deg/s]\"]  # CONFIRM"));
  CHECK(holds(map,
              "# [[column]]  # STATE what it is (another column is optic.speed), then take the '#' away\n"
              "# header = \"Pump\"\n# channel = \"\"\n# unit: \"rpm\" by the log itself\n"));
  const Outcome read = read_with_its_sketch(
      text, {{"ion_2.pressure", "pirani.pressure"}, {"ion_gauge.pressure", "manometer.pressure"}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(250).epsilon(1e-12));
  CHECK(read.values.at("pirani.pressure").front() == doctest::Approx(3.5).epsilon(1e-12));
  CHECK(read.values.at("optic.speed").front() == doctest::Approx(0.10471975511965977).epsilon(1e-12));
}

TEST_CASE("a line of column numbers above the names is preamble") {
  const auto table = [](const std::string& above, const std::string& names, char delimiter) {
    std::string out = above + names;
    for (int i = 0; i < 5; ++i)
      out += fmt::format("2031-03-04T05:06:0{1}Z{0}1.5{0}2.5{0}250\n", delimiter, i);
    return out;
  };
  const std::string names = "time;ion.pressure [mbar];pirani.pressure [Pa];argon.flow [sccm]\n";
  for (const char* above :
       {"1;2;3;4\n", "0;1;2;3\n", "#1;#2;#3;#4\n", "A;B;C;D\n", "Col 1;Col 2;Col 3;Col 4\n", "Column;1;2;3\n",
        ";1;2;3\n", "1;2;3;4;\n", "\"01\";\"02\";\"03\";\"04\"\n"}) {
    CAPTURE(above);
    const std::string text = table(above, names, ';');
    CHECK(holds(sketch(text), "preamble_lines = 1  # CONFIRM\n"));
    const Outcome read = read_with_its_sketch(text);
    CHECK(read.failures == std::vector<std::string>{});
    CHECK(read.time.size() == 5);
    CHECK(read.values.count("argon.flow") == 1);
  }
  const std::string more =
      table("Tarn Ridge\n\n#1,#2,#3,#4\n\n", "time,Ion P,Pirani P,Argon\n,mbar,Pa,sccm\n", ',');
  CHECK(holds(sketch(more), "preamble_lines = 4  # CONFIRM\nunits_line = true  # CONFIRM\n"));
  CHECK(failures_with_its_sketch(more) == std::vector<std::string>{});
}

TEST_CASE("names that are numbers or letters are a line of column numbers only above other names") {
  const std::string letters = sketch("A;B;C\n" + [] {
    std::string out;
    for (int i = 0; i < 5; ++i) out += fmt::format("2031-03-04T05:06:0{}Z;1;2\n", i);
    return out;
  }());
  CHECK(!holds(letters, "preamble_lines"));
  CHECK(holds(letters, "# header = \"B\""));
  const std::string units = sketch("A;B;C\n;mbar;sccm\n2031-03-04T05:06:07Z;1;2\n2031-03-04T05:06:08Z;1;2\n");
  CHECK(holds(units, "units_line = true"));
  CHECK(holds(units, "header = \"B\""));
  CHECK(holds(sketch("1;2;3\n2031-03-04T05:06:07Z;1;2\n2031-03-04T05:06:08Z;1;2\n"),
              "no line of names was found"));
  CHECK(holds(sketch("1;2;4\ntime;P [Pa];Q [sccm]\n2031-03-04T05:06:07Z;1;2\n2031-03-04T05:06:08Z;1;2\n"),
              "no line of names was found"));
  CHECK(holds(sketch("1;2;3\ntime;P [Pa]\n2031-03-04T05:06:07Z;1;2\n2031-03-04T05:06:08Z;1;2\n"),
              "the line above the rows names 2 of 3 columns"));
}

TEST_CASE("turns per minute are the optic's speed, however they are written") {
  for (const char* unit : {"1/min", "min-1", "min^-1", "U/min", "rpm", "min\u207B\u00B9"}) {
    CAPTURE(unit);
    const std::string text = fmt::format("time,Drehzahl [{}]\n", unit) + rows(5, [](int) { return "60"; });
    CHECK(holds(sketch(text), "channel = \"optic.speed\"  # CONFIRM: that it is the optic which turns\n"));
    const Outcome read = read_with_its_sketch(text);
    CHECK(read.failures == std::vector<std::string>{});
    CHECK(read.values.at("optic.speed").front() == doctest::Approx(6.283185307179586).epsilon(1e-12));
  }
}

TEST_CASE("a volume per time is no gas flow until a person says that standard gas is meant") {
  const std::string text = "time,Argon [l/min],oxygen.flow [l/min],Water [m3/h],N2 [ln/min],Ar [slm]\n" +
                           rows(5, [](int) { return "2,3,4,5,6"; });
  const std::string map = sketch(text);
  CHECK(holds(
      map,
      "# [[column]]  # STATE whether standard gas flows here, which \"l/min\" in the log does not say; if "
      "so,\n"
      "# take the '#' away and give its unit. Water, or gas at its own pressure, is no channel: leave this\n"
      "# header = \"Argon [l/min]\"\n# channel = \"argon.flow\""));
  CHECK(holds(map, "# unit = \"\"  # did you mean 'slm', standard litre per minute?"));
  CHECK(holds(map,
              "header = \"oxygen.flow [l/min]\"\nchannel = \"oxygen.flow\"\n"
              "# unit = \"\"  # STATE: \"l/min\" in the log is no unit of it known here; did you mean 'slm', "
              "standard litre per minute?"));
  CHECK(
      holds(map, "\"ln/min\" in the log is no unit known here; did you mean 'slm'? Normal gas is at 0 degC"));
  CHECK(holds(map, "header = \"Ar\"\nchannel = \"ar.flow\""));
  CHECK(!holds(map, "ignore"));
  // Nothing is read of what was not stated, and what was is read in its unit.
  const std::string named = "time,oxygen.flow [l/min]\n" + rows(5, [](int) { return "3"; });
  REQUIRE(read_with_its_sketch(named).failures.size() == 1);
  CHECK(holds(read_with_its_sketch(named).failures[0],
              "bad-unit: the unit of 'oxygen.flow' is not understood"));
  const Outcome read = read_with_its_sketch(
      text, {{"# [[column]]  # STATE whether standard", "[[column]]  # whether standard"},
             {"# header = \"Argon [l/min]\"\n# channel = ", "header = \"Argon [l/min]\"\nchannel = "},
             {"# unit = \"\"  # did", "unit = \"slm\"  # did"},
             {"# unit = \"\"  # STATE", "unit = \"slm\"  # STATE"},
             {"ar.flow", "nitrogen.flow"}});
  CHECK(read.failures == std::vector<std::string>{});
  const double slm = read.values.at("oxygen.flow").front() / 3;
  CHECK(slm == doctest::Approx(101325e-3 / 60 / (8.31446261815324 * 273.15)).epsilon(1e-12));
  CHECK(read.values.at("argon.flow").front() == doctest::Approx(2 * slm).epsilon(1e-12));
}

TEST_CASE("columns with stamps of their own are seen, and read with the sketch of them") {
  std::string text = "Time,Ion [Pa],Time,U [V],Shutter\n";
  for (int i = 0; i < 30; ++i) {
    text += fmt::format("2031-03-04T05:06:{:02}.000Z,{},", i, 1 + i);
    text += i < 20
                ? fmt::format("2031-03-04T05:06:{:02}.500Z,{},{}\n", i, 400 + i, i < 10 ? "open" : "closed")
                : ",,\n";
  }
  const std::string map = sketch(text);
  CHECK(holds(map, "[[column]]\nheader = \"Ion\"\ntime = \"Time\"  # CONFIRM: it has stamps of its own\n"));
  CHECK(holds(map, "[[column]]\nheader = \"U\"\ntime = \"Time\"  # CONFIRM: it has stamps of its own\n"));
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.time.size() == 50);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::unreadable_time)] == 0);
}

TEST_CASE("two times of one row side by side are no time of their own") {
  const std::string map = sketch(
      "Source,Server,P "
      "[Pa]\n2031-03-04T05:06:07Z,2031-03-04T05:06:07.1Z,1\n2031-03-04T05:06:08Z,2031-03-04T05:06:"
      "08.1Z,1\n");
  CHECK(!holds(map, "time = \"Server\""));
  CHECK(holds(map, "\"Server\" seems to hold times"));
}

TEST_CASE("quality columns are seen, each of its column, and their words are asked for") {
  const auto wide = [](const char* good, const char* bad) {
    return fmt::format(
        "time,P1 [Pa],P1 Quality,P12 [Pa],P12 Quality\n2031-03-04T05:06:07Z,1,{0},2,{0}\n"
        "2031-03-04T05:06:08Z,1,{1},2,{0}\n2031-03-04T05:06:09Z,1,{0},2,{0}\n",
        good, bad);
  };
  const std::string map = sketch(wide("Good", "Bad"));
  CHECK(holds(map,
              "good_quality = [\"Good\"]  # CONFIRM: anything else in quality columns is \"no value\", such "
              "as \"Bad\"\n"));
  CHECK(holds(map, "header = \"P1\"\nquality = \"P1 Quality\"  # CONFIRM"));
  CHECK(holds(map, "header = \"P12\"\nquality = \"P12 Quality\"  # CONFIRM"));
  CHECK(holds(sketch(wide("192", "24")), "good_quality = [\"192\"]  # CONFIRM"));
  CHECK(holds(
      sketch(wide("1", "0")),
      "# good_quality = []  # STATE what quality columns say of good values; they hold \"0\", \"1\"\n"));
  std::string text = wide("Good", "Bad");
  for (std::size_t at = 0; (at = text.find("P12", at)) != std::string::npos;) text.replace(at, 3, "Pirani");
  for (std::size_t at = 0; (at = text.find("P1", at)) != std::string::npos;) text.replace(at, 2, "Ion");
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::bad_value)] == 1);
  const std::string one =
      sketch("time,P [Pa],T [degC],Quality\n2031-03-04T05:06:07Z,1,20,ok\n2031-03-04T05:06:08Z,1,20,ok\n");
  CHECK(holds(one, "header = \"T\"\nquality = \"Quality\""));
}

TEST_CASE("a quality column in rows of time, name, value") {
  std::string text = "t,tag,val,Quality\n";
  for (int i = 0; i < 30; ++i) {
    for (const char* tag : {"Ion [Pa]", "Pirani [Pa]"})
      text += fmt::format("2031-03-04T05:06:{:02}Z,{},{},{}\n", i, tag, i, i == 3 ? 0 : 192);
  }
  const std::string map = sketch(text);
  CHECK(holds(map, "good_quality = [\"192\"]  # CONFIRM"));
  CHECK(holds(map,
              "value_column = \"val\"  # CONFIRM\nquality_column = \"Quality\"  # CONFIRM: it says whether "
              "the value is good\n"));
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::bad_value)] == 2);
}
