// First channel maps for unknown exports: headers of several lines, units above the names, numbered steps.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

TEST_CASE("line breaks in the quoted names of a header part no lines") {
  for (const std::string preamble : {"", "Export\n\"by hand\nOperator: x\n"}) {
    const std::string text = preamble + "time,\"Ion\r\n[mbar]\",\"Argon\nflow [sccm]\",Note\n" +
                             rows(9, [](int i) { return fmt::format("{},2,x", i + 1); });
    const std::string map = sketch(text);
    CHECK_MESSAGE(holds(map, "header = \"Ion\"\n"), map);
    CHECK(holds(map, "# unit: \"mbar\" by the log itself\n"));
    CHECK(holds(map, "header = \"Argon\\nflow\"\n"));
    CHECK(holds(map, "preamble_lines = 3") == !preamble.empty());
    const Outcome log = read_with_its_sketch(text);
    CHECK(log.failures == std::vector<std::string>{});
    CHECK(log.values.at("ion.pressure").back() == doctest::Approx(900));
    CHECK(log.values.at("argon.flow").size() == 9);
  }
}

TEST_CASE("units in the line above the names are told, and stated in the map") {
  const std::string text =
      ";mbar;sccm;\nTime;Ion;Argon;Note\n2031-03-04T05:00:00Z;1;2;x\n"
      "2031-03-04T05:00:01Z;1;2;x\n2031-03-04T05:00:02Z;1;2;x\n";
  const std::string map = sketch(text);
  CHECK(holds(map, "preamble_lines = 1  # CONFIRM\n"));
  CHECK_MESSAGE(
      holds(map,
            "header = \"Ion\"\nchannel = \"ion.pressure\"  # CONFIRM: the device's name in the chamber "
            "file\nunit = \"mbar\"  # by the log's line above the names\n"),
      map);
  CHECK(read_with_its_sketch(text).values.at("ion.pressure").front() == doctest::Approx(100));
  // Below is where they mostly stand; then the line above is another thing.
  const std::string both =
      sketch("s;V;A\nTime;Ion;Argon\n;mbar;sccm\n2031-03-04T05:00:00Z;1;2\n2031-03-04T05:00:01Z;1;2\n");
  CHECK_MESSAGE(holds(both, "units_line = true"), both);
  CHECK(!holds(both, "line above"));
}

TEST_CASE("numbered steps are steps, where no column names them") {
  const auto steps = [](const char* headers, auto cells) {
    const std::string map = sketch(std::string("time,") + headers + ",P [Pa]\n" + rows(40, cells));
    const std::size_t at = map.find("[steps]");
    return at == std::string::npos ? "" : map.substr(at, map.find("\n\n", at) - at);
  };
  CHECK(steps("Step", [](int i) { return fmt::format("{},1", 1 + i / 20); }) ==
        "[steps]\ncolumn = \"Step\"  # CONFIRM\n# names = { \"1\" = \"\", \"2\" = \"\" }  # STATE which step "
        "of the "
        "recipe each is, where the names differ");
  CHECK(holds(steps("Schritt-Nr", [](int i) { return fmt::format("{}.0,1", 1 + i / 20); }),
              "{ \"1.0\" = \"\", \"2.0\" = \"\" }"));
  for (const char* headers : {"Step No,Step", "Step,Step No"}) {
    const bool number_first = std::string(headers).ends_with("Step");
    const std::string found = steps(headers, [number_first](int i) {
      const char* name = i < 20 ? "pump" : "coat";
      return number_first ? fmt::format("{},{},1", 1 + i / 20, name)
                          : fmt::format("{},{},1", name, 1 + i / 20);
    });
    CHECK_MESSAGE(holds(found, "{ \"pump\" = \"\", \"coat\" = \"\" }"), found);
  }
  CHECK(steps("Step time", [](int i) { return fmt::format("{},1", i % 20); }).empty());
  CHECK(steps("Stage", [](int i) { return fmt::format("{}.5,1", i % 20); }).empty());
}

TEST_CASE("a step is known by its name in the map, however its number and its blanks are written") {
  plan::ChannelMap map = some_map();
  map.step_column = "Step";
  map.columns = {column("P", "ion.pressure", "Pa")};
  map.step_names = {{"1", "pump"}, {"Coat 2", "coat"}};
  const Outcome log =
      read("time,Step,P\n" +
               rows(4,
                    [](int i) {
                      constexpr const char* steps[] = {"1", "1.0", "Coat\u00A02", "\u00A0Coat 2\u00A0"};
                      return fmt::format("{},1", steps[i]);
                    }),
           map);
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"pump", "pump", "coat", "coat"});
}

TEST_CASE("what is no table is called what it is") {
  const std::string some = rows(30, [](int i) { return fmt::format("{},2", i); });
  const std::string head = "time,P [Pa],Q [sccm]\n";
  const auto all_lines = [](const std::string& text, auto change) {
    std::string out;
    for (std::size_t at = 0; at < text.size(); at = text.find('\n', at) + 1)
      out += change(text.substr(at, text.find('\n', at) - at)) + "\n";
    return out;
  };
  const auto quoted = [](const std::string& line) { return "\"" + line + "\""; };
  for (const std::string& text : {all_lines(head + some, quoted), head + all_lines(some, quoted)}) {
    const std::string said = sketch(text);
    CHECK_MESSAGE(holds(said, "error: each row stands in quotation marks as a whole"), said);
    CHECK(holds(
        said,
        "remedy: export it without them, or take them off: sed 's/^\"//; s/\"$//; s/\"\"/\"/g' LOG > TABLE"));
  }
  CHECK(holds(sketch(all_lines(head + some,
                               [](std::string line) {
                                 for (std::size_t at = 0; (at = line.find(',', at)) != std::string::npos;
                                      at += 3)
                                   line.replace(at, 1, "\",\"");
                                 return "\"" + line + "\"";
                               })),
              "header = \"P\""));
  for (const char* form :
       {"2031-03-04T05:06:{:02}Z P={}.5 Q=2 step=pump\n", "time=2031-03-04T05:06:{:02}Z, P={}.5, Q=2\n",
        "2031-03-04T05:06:{:02}Z;P=\"{}.5\";Q=2\n"}) {
    std::string text;
    for (int i = 0; i < 30; ++i) text += fmt::format(fmt::runtime(form), i, i);
    const std::string said = sketch(text);
    CHECK_MESSAGE(holds(said, "error: these are lines of names with their values, such as \"P="), said);
    CHECK(holds(said, "remedy: export a table: the names in one line, their values in the lines below"));
  }
}

TEST_CASE("a preamble that is longer than what is looked at is told") {
  for (const std::string line : {"note\n", "note, of the operator\n"}) {
    std::string text;
    for (int i = 0; i < 1200; ++i) text += line;
    const std::string said = sketch(text + "time,P [Pa]\n" + rows(30, [](int) { return "1"; }));
    CHECK_MESSAGE(holds(said, "in its first 1000 lines, and no more were looked at"), said);
    CHECK(holds(said, "if the preamble is longer, cut it off"));
  }
}
