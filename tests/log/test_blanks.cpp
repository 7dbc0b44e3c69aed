// Exports whose cells are apart by blanks: columns under each other, and one blank between any two.
#include <fmt/format.h>

#include <cmath>
#include <random>

#include "log/bytes.hpp"
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

plan::ChannelMap parted(unsigned blanks) {
  plan::ChannelMap map = some_map();
  map.delimiter = '\t';
  map.blanks = blanks;
  return map;
}

const std::string under_each_other =
    "time                  ion.pressure [Pa]   run.step\n"
    "2031-03-04T05:06:07Z               1.5   pump down\n"
    "2031-03-04T05:06:08Z               2.5   coat\n"
    "2031-03-04T05:06:09Z           1234.25   coat\n";

const std::string one_blank =
    "Date Time ion.pressure [Pa] argon.flow (sccm)\n"
    "2031-03-04 05:06:07 1.5 100\n"
    "2031-03-04 05:06:08 2.5 200\n"
    "2031-03-04 05:06:09 1234.25 300\n";

plan::ChannelMap with_date() {
  plan::ChannelMap map = parted(1);
  map.time_form = plan::TimeForm::local;
  map.time_format = "%Y-%m-%d %H:%M:%S";
  map.zone = "UTC";
  map.date_column = "Date";
  map.time_column = "Time";
  return map;
}

void check_rows(const Outcome& log) {
  for (const std::string& failure : log.failures) MESSAGE(failure);
  REQUIRE(log.opened);
  CHECK(log.said == std::vector<std::string>{});
  REQUIRE(log.time.size() == 3);
  CHECK(to_rfc3339(log.time[0]) == "2031-03-04T05:06:07Z");
  CHECK(to_rfc3339(log.time[2]) == "2031-03-04T05:06:09Z");
  CHECK(log.values.at("ion.pressure") == std::vector<double>{1.5, 2.5, 1234.25});
}

}  // namespace

namespace {

std::string tabs_for_blanks(std::string_view text, unsigned blanks, unsigned preamble_lines = 0) {
  TextForm form;
  form.blanks = blanks;
  form.preamble_lines = preamble_lines;
  return vacuary::log::tabs_for_blanks(text, form);
}

}  // namespace

TEST_CASE("columns under each other: cells may hold single blanks") {
  const Outcome log = read(under_each_other, parted(2));
  check_rows(log);
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"pump down", "coat", "coat"});
}

TEST_CASE("one blank and more between cells: a bracket stays with its name, quotation marks hold a cell") {
  const Outcome log = read(one_blank, with_date());
  check_rows(log);
  CHECK(log.values.at("argon.flow")[1] == doctest::Approx(2 * log.values.at("argon.flow")[0]));
  const Outcome quoted = read(
      "time ion.pressure [Pa] run.step\n"
      "  2031-03-04T05:06:07Z\t1.5 \"pump  down\"\n2031-03-04T05:06:08Z  2.5   \"a \"\"b\"\" c\"  \n"
      "2031-03-04T05:06:09Z 1234.25 coat\r\n",
      parted(1));
  check_rows(quoted);
  CHECK(quoted.texts.at("run.step") == std::vector<std::string>{"pump  down", "a \"b\" c", "coat"});
}

TEST_CASE("blanks to tabs") {
  CHECK(tabs_for_blanks("a b  c\td", 1) == "a\tb\tc\td");
  CHECK(tabs_for_blanks("a b  c\td", 2) == "a b\tc\td");
  CHECK(tabs_for_blanks("  a  \r\n b \n\n  \nc", 1) == "a\r\nb\n\n\nc");
  CHECK(tabs_for_blanks("p [Pa]  q (V)", 1) == "p [Pa]\tq (V)");
  CHECK(tabs_for_blanks("[Pa] (V) [s]\np [Pa]", 1) == "[Pa]\t(V)\t[s]\np [Pa]");
  CHECK(tabs_for_blanks("\"a  b\" c\"d  e", 1) == "\"a  b\"\tc\"d\te");
  // A quotation mark that is never closed costs its own line.
  CHECK(tabs_for_blanks("\"a b\nc d", 1) == "\"a b\nc\td");
  // Places are counted in characters; the header is the first line behind the preamble that is not blank.
  CHECK(tabs_for_blanks("x  y  z\n\n a\u00b0\u00b0  b   c\r\n 1\u00b0       3\n          3\n 2    2   4\n", 2,
                        1) == "x\ty\tz\n\na\u00b0\u00b0\tb\tc\r\n1\u00b0\t\t3\n\t\t3\n2\t2\t4\n");
  CHECK(tabs_for_blanks("a  b\n1\n", 2) == "a\tb\n1\n");
  CHECK(tabs_for_blanks("a\t(b)  c\n", 1) == "a\t(b)\tc\n");
  CHECK(tabs_for_blanks("# a  b\n", 1) == "# a\tb\n");
}

TEST_CASE("a line of very many cells is one row of wrong field count; a header with tabs shows no places") {
  std::string text = under_each_other + "2031-03-04T05:06:10Z";
  for (int i = 0; i < 200'000; ++i) text += "  1";
  text += "\n2031-03-04T05:06:11Z               4.5   coat\n";
  const Outcome log = read(text, parted(2));
  REQUIRE(log.opened);
  CHECK(log.values.at("ion.pressure") == std::vector<double>{1.5, 2.5, 1234.25, 4.5});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 1);
  // A header with tabs between blanks shows no places.
  const Outcome tabs = read(
      "time  \tion.pressure [Pa]   pirani.pressure [Pa]\n2031-03-04T05:06:07Z      1.5      3.5\n"
      "2031-03-04T05:06:08Z      1.5\n",
      parted(2));
  REQUIRE(tabs.opened);
  CHECK(tabs.values.at("ion.pressure") == std::vector<double>{1.5});
}

// Pieces of the file end anywhere, also within a run of blanks.
TEST_CASE("a log of many pieces reads the same as with tabs") {
  std::string aligned = "time  ion.pressure [Pa]  run.step\n", tabs = "time\tion.pressure [Pa]\trun.step\n";
  for (std::int64_t i = 0; i < 12'000; ++i) {
    const std::string stamp = to_rfc3339(Instant{1'930'367'167'000'000'000 + i * 1'000'000'000});
    const std::string value = fmt::format("{}", (i * 7919) % 100'003), step = i % 9 < 4 ? "a b" : "coat";
    aligned += fmt::format("{:<{}}{:>{}}  {}\n", stamp, 22 + i % 7, value, 9 + i % 13, step);
    tabs += stamp + "\t" + value + "\t" + step + "\n";
  }
  plan::ChannelMap map = some_map();
  map.delimiter = '\t';
  const Outcome expected = read(tabs, map), found = read(aligned, parted(2));
  REQUIRE(found.opened);
  CHECK(found.time == expected.time);
  CHECK(found.values == expected.values);
  CHECK(found.texts == expected.texts);
  CHECK(found.said == expected.said);
  CHECK(found.time.size() == 12'000);
}

TEST_CASE("a cell that is missing shows by the places of the others") {
  const std::string header = "time                  ion.pressure [Pa]   pirani.pressure [Pa]   run.step\n";
  const std::string rows =
      "2031-03-04T05:06:07Z               1.5                    3.5   coat\n"
      "2031-03-04T05:06:08Z                                      4.5   coat\n"
      "2031-03-04T05:06:09Z               2.5                          coat\n"
      "2031-03-04T05:06:10Z               3.5                    5.5\n";
  const Outcome log = read(header + rows, parted(2));
  REQUIRE(log.opened);
  CHECK(std::isnan(log.values.at("ion.pressure")[1]));
  CHECK(std::isnan(log.values.at("pirani.pressure")[2]));
  CHECK(log.values.at("ion.pressure")[3] == 3.5);
  CHECK(log.values.at("pirani.pressure")[1] == 4.5);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::missing_cell)] == 2);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 0);
}

TEST_CASE("where places do not show which cell is missing the row is dropped, and told") {
  const std::string header = "time                  ion.pressure [Pa]   pirani.pressure [Pa]\n";
  const std::string first = "2031-03-04T05:06:07Z               1.5                    3.5\n";
  const std::string missing = "2031-03-04T05:06:08Z                                      4.5\n";
  const auto dropped = [](const Outcome& log) {
    REQUIRE(log.opened);
    return log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)];
  };
  CHECK(dropped(read(header + first + missing, parted(2))) == 0);
  // A whole row that does not stand under the header; a cell between two names; cells apart by one blank.
  CHECK(dropped(read(header + "2031-03-04T05:06:07Z  1.5  3.5\n" + missing, parted(2))) == 1);
  CHECK(dropped(read(header + first + "2031-03-04T05:06:08Z              1.5 to 4.5 mbar\n", parted(2))) ==
        1);
  CHECK(dropped(read(header + first + "2031-03-04T05:06:08Z\t\t\t4.5\n", parted(2))) == 1);
  CHECK(dropped(
            read("time p [Pa] pirani.pressure [Pa]\n2031-03-04T05:06:07Z 1.5 3.5\n2031-03-04T05:06:08Z 4.5\n",
                 parted(1))) == 1);
  // The last line, when it is cut, is not taken for one with cells missing.
  const Outcome cut = read(header + first + "2031-03-04T05:06:08Z               1.5", parted(2));
  REQUIRE(cut.opened);
  CHECK(cut.tally.count[static_cast<std::size_t>(Oddity::cut_last_line)] == 1);
  CHECK(cut.time.size() == 1);
}

TEST_CASE("a line of units must show whose they are") {
  plan::ChannelMap map = parted(2);
  map.units_line = true;
  const std::string header = "time                   ion.pressure   pirani.pressure\n";
  const std::string rows = "2031-03-04T05:06:07Z   1.5            3.5\n";
  const Outcome under = read(header + "                       Pa             mbar\n" + rows, map);
  REQUIRE(under.opened);
  CHECK(under.values.at("ion.pressure") == std::vector<double>{1.5});
  CHECK(under.values.at("pirani.pressure")[0] == doctest::Approx(350));
  const Outcome refused = read(header + "Pa   mbar\n" + rows, map);
  CHECK(!refused.opened);
  REQUIRE(refused.failures.size() == 1);
  CHECK(refused.failures.front().find("the line of units has 2 of 3 cells") != std::string::npos);
}

TEST_CASE("a sketch finds cells apart by blanks, and its map reads the log") {
  const std::string two = sketch(under_each_other);
  CHECK(holds(two, "delimiter = \"two spaces\"  # CONFIRM"));
  const Outcome log = read_with_its_sketch(under_each_other);
  check_rows(log);
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"pump down", "coat", "coat"});

  const std::string one = sketch("Tarn Ridge vessel\n" + one_blank);
  CHECK(holds(one, "delimiter = \"space\"  # CONFIRM"));
  CHECK(holds(one, "preamble_lines = 1"));
  CHECK(holds(one, "date_column = \"Date\""));
  check_rows(read_with_its_sketch("Tarn Ridge vessel\n" + one_blank, {{"# zone = \"\"", "zone = \"UTC\""}}));

  const std::string with_units =
      "time                   ion.pressure   pirani.pressure\n"
      "                       Pa             mbar\n"
      "2031-03-04T05:06:07Z   1.5            3.5\n2031-03-04T05:06:08Z                  3.5\n"
      "2031-03-04T05:06:09Z   2.5            3.5\n2031-03-04T05:06:10Z   1234.25        3.5\n";
  CHECK(holds(sketch(with_units), "units_line = true"));
  const Outcome placed = read_with_its_sketch(with_units);
  REQUIRE(placed.opened);
  CHECK(placed.values.at("ion.pressure")[3] == 1234.25);
  CHECK(std::isnan(placed.values.at("ion.pressure")[1]));

  // Commas that part columns are taken before blanks that would.
  CHECK(holds(sketch("Date Time,ion.pressure [Pa]\n2031-03-04 05:06:07,1.5\n2031-03-04 05:06:08,2.5\n"),
              "delimiter = \",\""));
  // Names and rows must be as many.
  CHECK(holds(sketch("Time Ion pressure\n2031-03-04T05:06:07Z 1.5\n2031-03-04T05:06:08Z 2.5\n"),
              "apart by blanks, and not as many in every line"));
}

TEST_CASE("columns under each other: a cell that is too wide pushes no value under another's name") {
  plan::ChannelMap map = parted(2);
  const std::string head = "time                  run.step         a          b\n";
  map.columns = {column("a", "g1.pressure", "Pa"), column("b", "g2.pressure", "Pa")};
  const auto stamped = [](int s, const std::string& cells) {
    return fmt::format("2031-03-04T05:06:{:02}Z  {}\n", s, cells);
  };
  const std::string whole = "coat           1.5  1.234e-05";
  for (const bool on_change : {false, true}) {
    map.logging = on_change ? plan::Logging::on_change : plan::Logging::periodic;
    for (std::size_t wide = 9; wide < 24; ++wide) {
      std::string step = "pump down and what not else";
      step.resize(wide, 'x');
      std::string text = head;
      if (!on_change) text += stamped(0, whole) + stamped(1, whole);
      text += stamped(2, whole) + stamped(3, fmt::format("{:<8}  {:>8}  {:>9}", step, "1.5", ""));
      const Outcome log = read(text, map);
      REQUIRE(log.opened);
      CAPTURE(text);
      for (std::size_t i = 0; i < log.time.size(); ++i) {
        const double b = log.values.at("g2.pressure")[i];
        CHECK((b == 1.234e-05 || (std::isnan(b) && !on_change)));
      }
    }
  }
}

TEST_CASE("columns under each other: names that push later names along say nothing of where cells stand") {
  for (std::size_t more = 0; more < 12; ++more) {
    plan::ChannelMap map = parted(2);
    map.time_form = plan::TimeForm::elapsed_s;
    map.start = Instant{1'930'367'167'000'000'000};
    const std::string name = std::string(more, 'x') + "name";
    map.columns = {column(name, "g1.pressure", "Pa"), column("b", "g2.pressure", "Pa"),
                   column("c", "g3.pressure", "Pa")};
    std::string text = fmt::format("{:>8}  {:>4}  {:>4}  {:>4}\n", "time", name, "b", "c");
    const auto add = [&](int i, const char* a) {
      text += fmt::format("{:>8}  {:>4}  {:>4}  {:>4}\n", i, a, 20 + i, 30 + i);
    };
    for (int i = 0; i < 3; ++i) add(i, "");
    const Outcome none = read(text, map);
    for (std::size_t i = 0; none.opened && i < none.time.size(); ++i)
      CHECK(none.values.at("g2.pressure")[i] >= 20);
    add(3, "13");
    const Outcome log = read(text, map);
    REQUIRE(log.opened);
    for (std::size_t i = 0; i < log.time.size(); ++i) {
      const double a = log.values.at("g1.pressure")[i];
      CHECK((std::isnan(a) || a == 13));
      CHECK(log.values.at("g2.pressure")[i] >= 20);
    }
  }
}

TEST_CASE("columns under each other: a quotation mark that its line does not close costs no other line") {
  plan::ChannelMap map = parted(2);
  std::string text = "time                  ion.pressure [Pa]  run.step\n";
  for (int i = 0; i < 12; ++i)
    text += fmt::format("2031-03-04T05:06:{:02}Z  {}                 {}\n", i, i % 10,
                        i == 3   ? "\"hold"
                        : i == 8 ? "target 6\""
                                 : "coat");
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  CHECK(log.time.size() == 12);
  CHECK(log.texts.at("run.step")[3] == "\"hold");
  CHECK(log.texts.at("run.step")[4] == "coat");
}

TEST_CASE("columns under each other: short rows before any whole one, under a header spaced otherwise") {
  plan::ChannelMap map = parted(2);
  map.logging = plan::Logging::on_change;
  map.time_form = plan::TimeForm::elapsed_s;
  map.start = Instant{1'930'367'167'000'000'000};
  map.columns = {column("a", "g1.pressure", "Pa"), column("b-gauge", "g2.pressure", "Pa")};
  std::string text = "t         a         b-gauge\n";
  for (int i = 1; i < 5; ++i) text += fmt::format("{:<12}{:>12}{:>12}\n", i, i + 0.5, i == 4 ? "7.5" : "");
  const Outcome log = read(text, map);
  REQUIRE(log.opened);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::wrong_field_count)] == 3);
  REQUIRE(log.time.size() == 1);
  CHECK(log.values.at("g1.pressure")[0] == 4.5);
  CHECK(log.values.at("g2.pressure")[0] == 7.5);
}

TEST_CASE("columns under each other: a text with two blanks and a missing cell do not make a whole row") {
  plan::ChannelMap map = parted(2);
  const Outcome log = read(
      "time                  run.step     g1.pressure [Pa]   g2.pressure [Pa]\n"
      "2031-03-04T05:06:07Z  coat                    1.5                2.5\n"
      "2031-03-04T05:06:08Z  lamp  2                                    3.5\n"
      "2031-03-04T05:06:09Z  much too wide and more          1.5                2.5\n",
      map);
  REQUIRE(log.opened);
  CHECK(log.said == std::vector<std::string>{"line 3: wrong field count: 5 cells, the header has 4"});
  REQUIRE(log.time.size() == 2);
  CHECK(log.values.at("g2.pressure")[1] == 2.5);
}

TEST_CASE("columns under each other: a comment of any length is no header") {
  plan::ChannelMap map = parted(2);
  map.comment = '#';
  std::string text = "  # ";
  for (int i = 0; i < 40000; ++i) text += "x  y";
  const std::string table =
      "time                  g1.pressure [Pa]   g2.pressure [Pa]\n"
      "2031-03-04T05:06:08Z  1                  2\n"
      "2031-03-04T05:06:07Z                     3\n";
  map.newest_first = true;
  for (const std::string& above : {text + "\n", std::string("  # note\n")}) {
    const Outcome log = read(above + table, map);
    REQUIRE(log.opened);
    CHECK(log.time.size() == 2);
    CHECK(log.values.at("g2.pressure") == std::vector<double>{3, 2});
  }
}

// Whatever the widths, names, alignments and holes of a table are: what is read stands under its own name.
TEST_CASE("columns under each other: no value gets under another's name") {
  std::mt19937 random(20311);
  const auto below = [&random](std::size_t n) { return static_cast<std::size_t>(random()) % n; };
  std::size_t filled = 0, lost = 0;
  for (int table = 0; table < 300; ++table) {
    const std::size_t columns = 2 + below(6), lines = 1 + below(40), holes = 1 + below(12);
    plan::ChannelMap map = some_map();
    map.delimiter = '\t';
    map.blanks = 2;
    std::vector<std::string> names = {"time"};
    std::vector<std::size_t> widths = {20};
    std::vector<bool> right = {false};
    for (std::size_t c = 0; c < columns; ++c) {
      names.push_back(fmt::format("{}{}", std::string(below(9), 'n'), static_cast<char>('a' + c)));
      widths.push_back(std::max<std::size_t>(names.back().size(), 3 + below(9)));
      right.push_back(below(2) == 0);
      map.columns.push_back(column(names.back(), fmt::format("g{}.pressure", c), "Pa"));
    }
    const auto line = [&](const std::vector<std::string>& cells, bool left = false) {
      std::string out;
      for (std::size_t c = 0; c < cells.size(); ++c) {
        const std::string room(widths[c] - cells[c].size(), ' ');
        out += (c > 0 ? "  " : "") + (right[c] && !left ? room + cells[c] : cells[c] + room);
      }
      return out + "\n";
    };
    std::string text = line(names, below(2) == 0);
    std::vector<std::vector<double>> truth;
    for (std::size_t r = 0; r < lines; ++r) {
      std::vector<std::string> cells = {fmt::format("2031-03-04T05:06:{:02}Z", r)};
      truth.emplace_back();
      for (std::size_t c = 0; c < columns; ++c) {
        const std::string digits =
            std::to_string(1 + below(9)) + std::to_string(random()).substr(0, below(8));
        const bool hole = below(holes) == 0;
        cells.push_back(hole ? "" : digits.substr(0, widths[c + 1]));
        truth.back().push_back(hole ? std::nan("") : std::stod(cells.back()));
      }
      text += line(cells);
    }
    const Outcome log = read(text, map);
    INFO(text);
    if (!log.opened) continue;  // no row that could be read
    for (std::size_t i = 0; i < log.time.size(); ++i) {
      const std::size_t r = log.line[i] - 2;
      for (std::size_t c = 0; c < columns; ++c) {
        const double value = log.values.at(fmt::format("g{}.pressure", c))[i];
        CHECK((value == truth[r][c] || (std::isnan(value) && std::isnan(truth[r][c]))));
      }
    }
    filled += log.time.size();
    lost += lines - log.time.size();
  }
  CHECK(filled > 3 * lost);  // many tables have no whole row
}
