// First channel maps for unknown exports: table, time and form; guesses are marked.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

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
  const auto sketched = sketch_map({write("export.txt", text)}, &plant);
  REQUIRE(sketched.ok());
  CHECK(sketched.value().to_state == 1);  // the zone
  const Outcome read = read_with_its_sketch(text, {{"# zone = \"\"", "zone = \"UTC\""}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.said == std::vector<std::string>{});
  CHECK(read.time.size() == 30);
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(0.11).epsilon(1e-12));
  CHECK(read.values.at("t1.temperature").front() == doctest::Approx(293.65).epsilon(1e-12));
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
  CHECK(holds(sketch("time p\n1 2\n1 2 3\n1\n"), "apart by blanks, and not as many in every line"));
  CHECK(holds(sketch("t (us),P [Pa]\n0,1\n500,1\n1000,1\n"), "elapsed time in us is not read"));
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
  CHECK(holds(sketch("t [d],P [Pa]\n0,1\n0.5,1\n1,1\n"), "form = \"elapsed_d\""));
  CHECK(holds(sketch("MJD,P [Pa]\n62929.2125,1\n62929.2126,1\n62929.2127,1\n"), "form = \"mjd\"  # CONFIRM"));
  CHECK(holds(sketch("JD,P [Pa]\n2462929.7125,1\n2462929.7126,1\n2462929.7127,1\n"),
              "form = \"julian_date\"  # CONFIRM"));
  CHECK(holds(sketch("P [Pa],N\n2462929.7125,1\n2462929.7126,1\n2462929.7127,1\n"),
              "no column reads as a time"));
  CHECK(form("2031-063T05:06:07Z", "2031-063T05:06:08Z").find("%Y-%jT%H:%M:%S %z") != std::string::npos);
  CHECK(form("20310304T050607Z", "20310304T050608Z").find("%Y%m%dT%H%M%S%z") != std::string::npos);
  CHECK(form("Tue Mar  4 05:06:07 2031", "Tue Mar  4 05:06:08 2031").find("%a %b %d %H:%M:%S %Y") !=
        std::string::npos);
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

TEST_CASE("a short log whose header and units stand there again") {
  const std::string head = "Time;P\n;mbar\n";
  const std::string row = "2031-03-04T05:06:07Z;1\n";
  CHECK(holds(sketch(head + row + row + head + row), "form = \"rfc3339\"  # CONFIRM\n"));
}

TEST_CASE("of two exports of one length the middle row is a header, and no stamp") {
  const std::string half = rows(60, [](int i) { return fmt::format("{}", i); });
  const std::string map = sketch("Time,P [Pa]\n" + half + "TIME,P [Pa]\n" + half);
  CHECK(holds(map, "form = \"rfc3339\"  # CONFIRM\n"));
  CHECK(!holds(map, "bad_texts"));
  CHECK(!holds(sketch("Time;P [Pa]\nLATER;1\nLATER;2\n"), "name of a zone"));
}

TEST_CASE("of a very long log all of the beginning is looked at and pieces of the rest, and this is known") {
  const auto file = write("export.txt", "time,S\n" + rows(1000, [](int i) {
                                          return i == 700 ? "seen" : i == 600 ? "missed" : "usual";
                                        }));
  auto beginning = read_beginning(file);
  const auto table = find_table(file, beginning.value());
  const auto time = find_time(table.value());
  REQUIRE(time.has_value());
  // A row has 27 bytes: rows 0 to 399 are looked at, then, about, 400 to 499, 700 to 799.
  const Effort effort{2700, 4, 3};
  const auto found = survey(file, {}, table.value(), &*time, nullptr, effort);
  REQUIRE(found.ok());
  CHECK(found.value().pieces);
  CHECK(found.value().columns[1].words == std::vector<std::string>{"usual", "seen"});
  CHECK(found.value().rows > 550);
  CHECK(found.value().rows < 650);
  CHECK(found.value().end.back()[1] == "usual");
  const auto all = survey(file, {}, table.value(), &*time, nullptr);
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

TEST_CASE("a tag whose rows name two units is read in both") {
  const std::string map = sketch("time,tag,value,unit\n" + rows(60, [](int i) -> std::string {
                                   if (i % 2 == 0) return "argon.flow,250,sccm";
                                   return i < 40 ? "ion.pressure,1e-5,mbar" : "ion.pressure,1e-3,Pa";
                                 }));
  CHECK(
      holds(map,
            "channel = \"ion.pressure\"\n"
            "unit = \"mbar\"  # by the log's column of units, also \"Pa\": each value is read in its own\n"));
  CHECK(holds(map, "unit_column = \"unit\"  # CONFIRM"));
}

TEST_CASE("a time in several columns is found and read") {
  std::string text = "Day,Month,Year,hh,mm,ss,ion.pressure [Pa]\n";
  for (int i = 0; i < 30; ++i) text += fmt::format("4,3,2031,5,6,{},{}\n", i, i);
  const std::string map = sketch(text);
  CHECK(!holds(map, "no column reads"));
  CHECK(holds(map, "format = \"%Y %m %d %H %M %S\""));
  const Outcome log = read_with_its_sketch(text, {{"# zone = \"\"", "zone = \"UTC\""}});
  CHECK(log.failures == std::vector<std::string>{});
  REQUIRE(log.time.size() == 30);
  CHECK(to_rfc3339(log.time[7]) == "2031-03-04T05:06:07Z");
  CHECK(log.header.unmapped.empty());
}

TEST_CASE("lines that begin with a mark are comments, wherever they stand") {
  std::string text = "# made by hand\ntime,ion.pressure [Pa]\n# looked in, once\n" + rows(100, [](int i) {
                       return fmt::format("{}{}", i, i % 30 == 29 ? "\n# note, 1" : "");
                     });
  CHECK(holds(sketch(text), "comment = \"#\"  # CONFIRM: 4 lines begin with it and are no rows\n"));
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.time.size() == 100);
  CHECK(log.breaks.empty());
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::comment_line)] == 4);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 0);
}

TEST_CASE("a header that begins with the mark of comments, and comments by the hundred") {
  for (const std::string part : {";", "  ", " "}) {
    const auto with = [&part](std::string line) {
      for (std::size_t at = 0; (at = line.find(';', at)) != std::string::npos; at += part.size())
        line.replace(at, 1, part);
      return line + "\n";
    };
    for (const std::string above : {"", "# made by hand\n"}) {
      // The header, a comment right below it, and more comments than any share that is damage.
      std::string text = above + with("# time;ion.pressure [Pa]") + "# looked in\n";
      for (int i = 0; i < 60; ++i) {
        text += with(fmt::format("2031-03-04T05:{:02}:{:02}Z;{}", i / 60, i % 60, i));
        if (i % 3 == 2) text += "# note \"half\n";
      }
      text += with("# 2031-03-04T05:09:00Z;999");
      const std::string map = sketch(text);
      CHECK(holds(map, "column = \"# time\"  # CONFIRM\n"));
      CHECK(holds(map, "comment = \"#\"  # CONFIRM: 22 lines begin with it and are no rows\n"));
      CHECK(holds(map, "# Looked at: 60 rows, all there are.\n"));
      const Outcome log = read_with_its_sketch(text);
      CHECK(log.failures == std::vector<std::string>{});
      CHECK(log.time.size() == 60);
      CHECK(log.tally.count[static_cast<std::size_t>(Oddity::comment_line)] == 22);
      CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 0);
    }
  }
}

TEST_CASE("rows whose numbers begin with the mark are rows; commented-out rows are none") {
  std::string numbered = "#,time,ion.pressure [Pa]\n", out = "n,time,ion.pressure [Pa]\n";
  for (int i = 0; i < 30; ++i) {
    numbered += fmt::format("#{0},2031-03-04T05:06:{0:02}Z,{0}\n", i);
    out += fmt::format("{1}{0},2031-03-04T05:06:{0:02}Z,{2}\n", i, i % 10 == 5 ? "#" : "",
                       i % 10 == 5 ? 999 : i);
  }
  CHECK(!holds(sketch(numbered), "comment = "));
  CHECK(holds(sketch(numbered), "# Looked at: 30 rows"));
  CHECK(holds(sketch(out), "comment = \"#\"  # CONFIRM: 3 lines begin with it and are no rows\n"));
  CHECK(holds(sketch(out), "# Looked at: 27 rows"));
  CHECK(!holds(sketch(out), "999"));
}

TEST_CASE("prose above a table that blanks part, with as many words as it has columns or more") {
  for (const std::string part : {" ", "   "}) {
    for (const std::string prose :
         {"Trend of gauges", "Run 12 by", "Export of the coating plant in the north hall",
          "Plant of\nthe north hall"}) {
      for (const bool units : {false, true}) {
        std::string text = prose + "\ntime" + part + "ion.pressure" + part + "T\n";
        if (units) text += "s" + part + "Pa" + part + "degC\n";
        for (int i = 0; i < 30; ++i)
          text += fmt::format("2031-03-04T05:06:{1:02}Z{0}{1}{0}20.{1}\n", part, i);
        const std::string map = sketch(text);
        INFO(text.substr(0, 80), map);
        CHECK(holds(map, "column = \"time\"  # CONFIRM\n"));
        CHECK(holds(map, fmt::format("preamble_lines = {}  # CONFIRM\n",
                                     prose.find('\n') == std::string::npos ? 1 : 2)));
        CHECK(holds(map, "units_line = true") == units);
        CHECK(holds(map, "# Looked at: 30 rows, all there are.\n"));
      }
    }
  }
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

TEST_CASE("days and times of day with other marks between them") {
  for (const char* stamp :
       {"2031/03/14-05:06:0", "2031-03-14_05:06:0", "14/Mar/2031:05:06:0", "20310314-05060"}) {
    CAPTURE(stamp);
    std::string text = "when,ion.pressure [Pa]\n";
    for (int i = 0; i < 4; ++i) text += fmt::format("{}{},{}\n", stamp, i, i + 1);
    const Outcome log = read_with_its_sketch(text, {{"# zone = \"\"", "zone = \"UTC\""}});
    REQUIRE(log.opened);
    CHECK(to_rfc3339(log.time.at(1)) == "2031-03-14T05:06:01Z");
  }
  std::string text = "when,ion.pressure [Pa]\n";
  for (int i = 0; i < 4; ++i) text += fmt::format("Fri 14 Mar 2031 05:06:0{} GMT,{}\n", i, i + 1);
  CHECK(holds(sketch(text), "format = \"%a %d %b %Y %H:%M:%S"));
}

TEST_CASE("what is no table at all is called by its name") {
  CHECK(sketch("{\"time\": \"2031-03-04T05:06:07Z\", \"p\": 1}\n{\"time\": 2}\n")
            .find("this is JSON, not a table") != std::string::npos);
  CHECK(sketch(std::string("PK\x03\x04\x14\0\x06\0", 8)).find("a spreadsheet's workbook") !=
        std::string::npos);
  CHECK(sketch("<table><tr><td>time</td></tr></table>").find("this is HTML or XML") != std::string::npos);
  CHECK(sketch("[Header]\nsite,Tarn Ridge\n\ntime,ion.pressure "
               "[Pa]\n2031-03-04T05:06:07Z,1\n2031-03-04T05:06:08Z,1\n")
            .find("not a table") == std::string::npos);
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

TEST_CASE("blanks part a table whose names or texts hold commas, and a column in another unit is no time") {
  std::string text = "Zeit        p, mbar   T, degC\n";
  for (int i = 0; i < 20; ++i) text += fmt::format("{:02}:06:07    1,{}e-3    20,{}\n", i, i % 10, i % 10);
  CHECK(holds(sketch(text), "delimiter = \"two spaces\""));
  std::string phases = "t [s]  phase                 p\n";
  for (int i = 0; i < 20; ++i) phases += fmt::format("{:>5}  pump down, then wait  0.{}\n", i, i % 10);
  CHECK(holds(sketch(phases), "delimiter = \"two spaces\""));
  CHECK(holds(sketch("time  ,p [Pa]  ,q [Pa]\n2031-03-04T05:06:07Z  ,1  ,2\n2031-03-04T05:06:08Z  ,1  ,2\n"),
              "delimiter = \",\""));
  CHECK(holds(sketch("P [Pa],T [degC]\n3,20\n2,21\n4,22\n"), "no column reads as a time"));
}

TEST_CASE("month and minute of one name; a comment that ends the log is no footer") {
  std::string text = "yyyy,mm,dd,hh,mm,ss,ion.pressure [Pa]\n";
  for (int i = 0; i < 180; ++i) text += fmt::format("2031,3,4,5,{},{},{}\n", 6 + i / 60, i % 60, i);
  const Outcome log = read_with_its_sketch(text + "# end\n", {{"# zone = \"\"", "zone = \"UTC\""}});
  CHECK(log.failures == std::vector<std::string>{});
  REQUIRE(log.time.size() == 180);
  CHECK(to_rfc3339(log.time[179]) == "2031-03-04T05:08:59Z");
  CHECK(!holds(sketch(text + "# end\n"), "footer_lines"));
}
