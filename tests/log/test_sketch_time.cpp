// First channel maps for unknown exports: how their time is written.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

// The lines of [time] but for its column.
std::string time_of(const std::string& map) {
  const std::size_t from = map.find("\n", map.find("[time]\ncolumn = ") + 8) + 1;
  return map.substr(from, map.find("\n\n", from) - from);
}

std::string counted(const std::string& header, double from = 0, double by = 0.5) {
  std::string text = header + ";P [Pa]\n";
  for (int i = 0; i < 9; ++i) text += fmt::format("{:.4f};1\n", from + by * i);
  return text;
}

}  // namespace

TEST_CASE("elapsed time is in the unit that its header says, wherever it stands there") {
  const auto form = [](const char* header) {
    const std::string lines = time_of(sketch(counted(header)));
    return lines.substr(0, lines.find('\n'));
  };
  for (const char* header :
       {"Zeit/min", "t/min", "Time (mins)", "time_min", "Elapsed minutes", "Zeit in Minuten", "t_min",
        "Minutes", "ElapsedMinutes", "Zeit [Min.]", "t, min"})
    CHECK_MESSAGE(form(header) == "form = \"elapsed_min\"  # CONFIRM", header);
  for (const char* header : {"t/h", "Time_h", "Time (hrs)", "Zeit [Std]", "Zeit in Stunden", "Elapsed hours"})
    CHECK_MESSAGE(form(header) == "form = \"elapsed_h\"  # CONFIRM", header);
  for (const char* header : {"time_ms", "t_ms", "Time (msec)", "Zeit/ms", "elapsed.ms", "milliseconds"})
    CHECK_MESSAGE(form(header) == "form = \"elapsed_ms\"  # CONFIRM", header);
  for (const char* header : {"Time (days)", "Zeit/d", "Time (day fraction)", "Elapsed [fraction of day]"})
    CHECK_MESSAGE(form(header) == "form = \"elapsed_d\"  # CONFIRM", header);
  for (const char* header :
       {"time_s", "Time (secs)", "Zeit in Sekunden", "seconds", "t/s", "Tiempo (segundos)"})
    CHECK_MESSAGE(form(header) == "form = \"elapsed_s\"  # CONFIRM", header);
}

TEST_CASE("a unit of elapsed time that is not known is asked for, and that there is none is told") {
  for (const char* header : {"Time [hh]", "t (week)", "Time (ticks)"}) {
    const std::string lines = time_of(sketch(counted(header)));
    CHECK_MESSAGE(lines.starts_with("# form = \"\"  # STATE: the log says \""), lines);
    CHECK_MESSAGE(holds(lines,
                        "which is no unit known here: elapsed_ms, elapsed_s, elapsed_min, elapsed_h or "
                        "elapsed_d"),
                  lines);
    CHECK(!holds(lines, "\nform"));
  }
  CHECK(time_of(sketch(counted("Elapsed")))
            .starts_with("form = \"elapsed_s\"  # CONFIRM: the log does not say in which unit it is\n"));
}

TEST_CASE("a count of seconds that could be a day of a spreadsheet's is what its unit says") {
  CHECK(time_of(sketch(counted("t [s]", 40000.1234))).starts_with("form = \"elapsed_s\"  # CONFIRM\n"));
  CHECK(time_of(sketch(counted("time_min", 40000.1234))).starts_with("form = \"elapsed_min\"  # CONFIRM\n"));
  CHECK(time_of(sketch(counted("Date", 47911.2125, 1e-3)))
            .starts_with("form = \"spreadsheet_day\"  # CONFIRM\n"));
}

TEST_CASE("a form of time that the log's own unit contradicts is not read") {
  plan::ChannelMap map = some_map();
  map.delimiter = ';';
  map.columns = {column("P", "ion.pressure")};
  map.start = Instant{};
  map.time_form = plan::TimeForm::elapsed_s;
  for (const char* header : {"t [min]", "t (ms)", "t [h]"}) {
    const Outcome log = read(counted(header), map);
    REQUIRE(!log.failures.empty());
    CHECK_MESSAGE(log.failures.front().starts_with("contradictory-unit: the time column is in '"), header);
  }
  CHECK(read(counted("t [s]"), map).failures.empty());
  CHECK(read(counted("t [UTC]"), map).failures.empty());
  map.time_form = plan::TimeForm::elapsed_min;
  CHECK(read(counted("t [min]"), map).failures.empty());
  map.units_line = true;
  map.columns[0].unit = std::get<Unit>(parse_unit("Pa", Kind::pressure));
  CHECK(read("t;P\nmin;Pa\n0;1\n1;1\n", map).failures.empty());
  CHECK(!read("t;P\ns;Pa\n0;1\n1;1\n", map).failures.empty());
}

namespace {

// A stamp every `step_ms` from the 7th millisecond of a second on, its milliseconds written without zeros.
std::string unpadded(const std::string& form, int step_ms, int n = 60) {
  std::string text = "when;P [Pa]\n";
  for (int i = 0; i < n; ++i) {
    const int ms = 7 + i * step_ms;
    text += fmt::format(fmt::runtime(form), 43 + ms / 60'000, ms / 1000 % 60, ms % 1000) +
            fmt::format(";{}\n", i);
  }
  return text;
}

}  // namespace

TEST_CASE("milliseconds that are written without zeros before them are seen as such and read as such") {
  for (const int step_ms : {50, 93, 105, 250, 1105}) {
    CAPTURE(step_ms);
    for (const auto& [form, format] :
         {std::pair{"2031-03-14 12:{:02}:{:02}.{}", "%Y-%m-%d %H:%M:%S.%L"},
          std::pair{"14.03.2031 12:{:02}:{:02},{}", "%d.%m.%Y %H:%M:%S,%L"},
          std::pair{"14.03.2031 12:{:02}:{:02}:{}", "%d.%m.%Y %H:%M:%S:%L"},
          std::pair{"2031-03-14T12:{:02}:{:02}.{}Z", "%Y-%m-%dT%H:%M:%S.%L%z"},
          std::pair{"2031-03-14 12:{:02}:{:02}.{}+00:00", "%Y-%m-%d %H:%M:%S.%L%z"}}) {
      const std::string text = unpadded(form, step_ms);
      const std::string lines = time_of(sketch(text));
      CHECK_MESSAGE(
          holds(lines, fmt::format("format = \"{}\"  # CONFIRM: milliseconds without zeros before them, "
                                   "so that \".7\" is 0.007 s\n",
                                   format)),
          lines);
      const bool zoned = holds(lines, "zone = \"UTC\"");
      const Stated device = {{"p.pressure\"", "ion.pressure\""}, {"# zone = \"\"", "zone = \"UTC\""}};
      const Outcome log = read_with_its_sketch(text, zoned ? Stated{device[0]} : device);
      CHECK(log.failures == std::vector<std::string>{});
      REQUIRE(log.time.size() == 60);
      CHECK(log.time[1].ns - log.time[0].ns == step_ms * std::int64_t{1'000'000});
      CHECK(log.time[0].ns % 1'000'000'000 == 7'000'000);
    }
  }
}

TEST_CASE("fractions of a second from which zeros were taken off are decimals") {
  const auto is_decimal = [](const std::vector<std::string>& seconds) {
    std::string text = "when;P [Pa]\n";
    for (int i = 0; i < 40; ++i)
      text += fmt::format("2031-03-14 12:{:02}:{};1\n", i / 4,
                          seconds[static_cast<std::size_t>(i) % seconds.size()]);
    const std::string lines = time_of(sketch(text));
    CHECK_MESSAGE(!holds(lines, "%L"), lines);
    CHECK(holds(lines, "form = \""));
  };
  is_decimal({"10", "10.25", "10.5", "10.75"});
  is_decimal({"10.007", "10.257", "10.507", "10.757"});
  is_decimal({"10.07", "10.307", "10.5", "10.75"});
  is_decimal({"10.1", "20.2", "30.3", "40.4"});
  is_decimal({"10.5", "25.5", "40.51", "55.5"});
}

namespace {

// The lines of [time] for stamps of these seconds, and when the first of them was, read so.
std::string written(const std::string& form) {
  std::string text = "when;P [Pa]\n";
  for (int s = 1; s < 9; ++s) text += fmt::format(fmt::runtime(form), s) + ";1\n";
  return text;
}
std::string first_stamp(const std::string& form) {
  const std::string text = written(form);
  const std::string map = sketch(text);
  if (!holds(map, "form = \"")) return map;
  Stated stated = {{"p.pressure\"", "ion.pressure\""}};
  if (holds(map, "# zone = \"\"")) stated.push_back({"# zone = \"\"", "zone = \"UTC\""});
  const Outcome log = read_with_its_sketch(text, stated);
  return log.failures.empty() ? to_rfc3339(log.time.front()) : log.failures.front();
}

}  // namespace

TEST_CASE(
    "halves of the day, names of zones and words behind the time are read, as far as they say one thing") {
  const std::string morning = "2031-03-14T05:06:01Z", evening = "2031-03-14T17:06:01Z";
  for (const char* form :
       {"14.03.2031 05:06:0{} a.m.", "3/14/2031 5:06:0{} AM", "14/03/2031 05:06:0{}\u00A0a.\u00A0m.",
        "2031-03-14, 5:06:0{}\u202F"
        "AM",
        "14.03.2031 05:06:0{} Uhr", "14. M\u00E4rz 2031 05:06:0{}", "Fr 14.03.2031 05:06:0{}",
        "Fri, 03/14/2031 05:06:0{}"})
    CHECK_MESSAGE(first_stamp(form) == morning, form);
  for (const char* form :
       {"14.03.2031 05:06:0{} p.m.", "3/14/2031 5:06:0{} P.M.", "14/03/2031 05:06:0{} p. m."})
    CHECK_MESSAGE(first_stamp(form) == evening, form);
  for (const char* form :
       {"2031-03-14 06:06:0{} CET", "2031-03-14 07:06:0{} CEST", "14.03.2031 06:06:0{} MEZ",
        "2031-03-14 06:06:0{} GMT+01:00", "2031-03-14T06:06:0{} UTC+1", "2031-03-14 05:06:0{} [UTC]",
        "2031-03-14T06:06:0{}+01:00[Europe/Berlin]", "2031-03-14 00:06:0{} UTC-05:00",
        "2031-03-14 05:06:0{} (WET)"}) {
    CHECK_MESSAGE(first_stamp(form) == morning, form);
    CHECK(holds(sketch(written(form)), "zone = \"UTC\"  # each stamp carries its own offset"));
  }
  // A name of several zones is none.
  const std::string unread = sketch(written("2031-03-14 05:06:0{} CST"));
  CHECK_MESSAGE(
      holds(unread,
            "no column reads as a time; \"when\" holds \"2031-03-14 05:06:05 CST\"; that name of a zone is "
            "not known here, or of several: export the offset, or the time without it"),
      unread);
}

TEST_CASE("cells that a spreadsheet was to take for text are what they hold") {
  CHECK(first_stamp("=\"2031-03-14 05:06:0{}\"") == "2031-03-14T05:06:01Z");
  CHECK(first_stamp("\"=\"\"2031-03-14 05:06:0{}\"\"\"") == "2031-03-14T05:06:01Z");
  const Outcome log = read("time,ion.pressure [Pa],plant.state\n" +
                           rows(3, [](int i) { return fmt::format("=\"{}.5\",=\"on\"", i); }));
  CHECK(log.values.at("ion.pressure").back() == 2.5);
  CHECK(log.texts.at("plant.state").back() == "on");
}

TEST_CASE(
    "a date that reads in several orders: with AM and PM the month is first; a year of two digits is asked "
    "for") {
  CHECK(
      time_of(sketch(written("03/04/2031 05:06:0{} PM")))
          .find("format = \"%m/%d/%Y %I:%M:%S %p\"  # CONFIRM: month first, as mostly beside AM and PM; day "
                "first reads as well\n") != std::string::npos);
  for (const char* form : {"31-03-14 05:06:0{}", "31/03/14 05:06:0{}", "31.03.14 05:06:0{}"}) {
    const std::string lines = time_of(sketch(written(form)));
    const char mark = form[2];
    CHECK_MESSAGE(
        holds(lines, fmt::format("# format = \"\"  # STATE in which order day, month and year stand: "
                                 "\"%d{0}%m{0}%y %H:%M:%S\" or \"%y{0}%m{0}%d %H:%M:%S\"\n",
                                 mark)),
        lines);
  }
  CHECK(holds(time_of(sketch(written("05/03/04 05:06:0{}"))),
              "\"%d/%m/%y %H:%M:%S\", \"%m/%d/%y %H:%M:%S\" or "
              "\"%y/%m/%d %H:%M:%S\"\n"));
  CHECK(holds(sketch(written("31-13-04 05:06:0{}")), "no column reads as a time"));
  CHECK(first_stamp("14-03-31 05:06:0{}") != "2031-03-14T05:06:01Z");  // 2014 reads as well
  CHECK(first_stamp("45-03-14 05:06:0{}") == "2045-03-14T05:06:01Z");
  CHECK(holds(sketch(written("13/04/2031 05:06:0{} PM")), "format = \"%d/%m/%Y %I:%M:%S %p\"  # CONFIRM\n"));
}
