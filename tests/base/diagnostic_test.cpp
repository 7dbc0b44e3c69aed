#include <doctest/doctest.h>

#include "base/base.hpp"

using namespace vacuary;

namespace {

// A complaint about the first `needle` in `text`.
std::string complaint(const std::string& text, const std::string& needle, PrintStyle style = {}) {
  const Source source("recipe.toml", text);
  Diagnostic d;
  d.rule = "some-rule";
  d.message = "something is wrong";
  d.where = source.place(text.find(needle), needle.size());
  return to_text(d, style);
}

Diagnostic at(const std::string& file, std::uint64_t line, std::uint32_t column, const std::string& message) {
  Diagnostic d;
  d.message = message;
  Place place;
  place.file = file;
  place.line = line;
  place.column = column;
  d.where = place;
  return d;
}

}  // namespace

TEST_CASE("a diagnostic with everything") {
  const Source recipe("recipe.toml", "a = 1\npower = \"38 kw\"\n");
  const Source chamber("chamber.toml", "first = 2\n");
  Diagnostic d;
  d.severity = Severity::warning;
  d.rule = "power-above-supply";
  d.message = "the power is more than the supply can give";
  d.where = recipe.place(14, 7);
  d.found = "38 kW";
  d.bound = "at most 20 kW";
  d.assumed = {"one supply", "no ramp"};
  d.remedy = "lower the power";
  d.second = SecondPlace{chamber.place(0, 5), "first set here"};
  CHECK(to_text(d) ==
        "recipe.toml:2:9: warning: the power is more than the supply can give [power-above-supply]\n"
        "    2 | power = \"38 kw\"\n"
        "      |         ^~~~~~~\n"
        "    found: 38 kW\n"
        "    bound: at most 20 kW\n"
        "    assumed: one supply\n"
        "    assumed: no ramp\n"
        "    remedy: lower the power\n"
        "chamber.toml:1:1: note: first set here\n"
        "    1 | first = 2\n"
        "      | ^~~~~\n");
}

TEST_CASE("nowhere, a whole file, and colour") {
  Diagnostic d;
  d.severity = Severity::note;
  d.message = "nothing to say";
  CHECK(to_text(d) == "note: nothing to say\n");
  d.where = Place::whole_file("log.csv");
  CHECK(to_text(d) == "log.csv: note: nothing to say\n");
  CHECK(to_text(d, {.colour = true}) == "\x1b[1mlog.csv:\x1b[0m \x1b[1;36mnote:\x1b[0m nothing to say\n");
  CHECK(complaint("abc", "b", {.colour = true}) ==
        "\x1b[1mrecipe.toml:1:2:\x1b[0m \x1b[1;31merror:\x1b[0m something is wrong [some-rule]\n"
        "    1 | abc\n"
        "      |  \x1b[1;31m^\x1b[0m\n");
}

TEST_CASE("the caret stands under its column") {
  const std::string head1 = "recipe.toml:1:";
  SUBCASE("after letters of more than one byte") {
    CHECK(complaint("gr\u00FC\u00DFe \u2014 x", "x") ==
          "recipe.toml:1:9: error: something is wrong [some-rule]\n    1 | gr\u00FC\u00DFe \u2014 x\n      | "
          "        ^\n");
  }
  SUBCASE("after a tab, which is one column") {
    CHECK(complaint("\t\tx = 1", "x = 1") ==
          "recipe.toml:1:3: error: something is wrong [some-rule]\n    1 |   x = 1\n      |   ^~~~~\n");
  }
  SUBCASE("in a file with CRLF") {
    CHECK(complaint("a\r\nbad\r\nc", "bad") ==
          "recipe.toml:2:1: error: something is wrong [some-rule]\n    2 | bad\n      | ^~~\n");
  }
  SUBCASE("a run over the line's end stays in its line") {
    CHECK(complaint("a\r\nbad\r\nc", "d\r\nc") ==
          "recipe.toml:2:3: error: something is wrong [some-rule]\n    2 | bad\n      |   ^\n");
  }
  SUBCASE("after a byte-order mark, which is no column") {
    CHECK(complaint("\xEF\xBB\xBFx = 1", "x") ==
          "recipe.toml:1:1: error: something is wrong [some-rule]\n    1 | x = 1\n      | ^\n");
  }
  SUBCASE("at the end of the file") {
    const Source source("recipe.toml", "ab\n");
    CHECK(source.place(3).line == 2);
    CHECK(source.place(3).column == 1);
    CHECK(source.place(99).line == 2);
    CHECK(Source("e", "").place(5).line == 1);
  }
  SUBCASE("line numbers past the gutter keep the bars in one column") {
    CHECK(complaint(std::string(1234567, '\n') + "x", "x") ==
          "recipe.toml:1234568:1: error: something is wrong [some-rule]\n1234568 | x\n        | ^\n");
  }
}

TEST_CASE("long lines are shown around the caret") {
  const std::string text = std::string(300, 'a') + "BAD" + std::string(300, 'b');
  CHECK(complaint(text, "BAD") == "recipe.toml:1:301: error: something is wrong [some-rule]\n    1 | ..." +
                                      std::string(50, 'a') + "BAD" + std::string(47, 'b') + "...\n      | " +
                                      std::string(53, ' ') + "^~~\n");
  const std::string start = "BAD" + std::string(300, 'b');
  CHECK(complaint(start, "BAD") == "recipe.toml:1:1: error: something is wrong [some-rule]\n    1 | BAD" +
                                       std::string(97, 'b') + "...\n      | ^~~\n");
  // The caret line is cut where the shown line is.
  const std::string wide = "x" + std::string(300, 'y');
  CHECK(complaint(wide, wide) == "recipe.toml:1:1: error: something is wrong [some-rule]\n    1 | x" +
                                     std::string(99, 'y') + "...\n      | ^" + std::string(99, '~') + "\n");
}

TEST_CASE("a hostile file cannot drive the terminal") {
  CHECK(complaint("a\x1b[31m\x07z", "z") ==
        "recipe.toml:1:8: error: something is wrong [some-rule]\n    1 | a?[31m?z\n      |        ^\n");
  CHECK(complaint("a\u009Bz", "z") ==
        "recipe.toml:1:3: error: something is wrong [some-rule]\n    1 | a?z\n      |   ^\n");
  Diagnostic d;
  d.message = "found '\x1b[2J'\r\nfake.toml:1:1: error";
  d.remedy = "a\nb";
  d.found = "\x7f";
  d.rule = "r";
  CHECK(to_text(d) == "error: found '?[2J'??fake.toml:1:1: error [r]\n    found: ?\n    remedy: a?b\n");
  d = {};
  d.message = "m";
  d.where = Place::whole_file("a\x1b]0;x");
  CHECK(to_text(d) == "a?]0;x: error: m\n");
}

TEST_CASE("bytes that are no UTF-8 print as '?' each, and the text stays valid") {
  for (const std::string& bytes : {std::string("a\xFFz"), std::string("a\xC3("), std::string("\xE2\x82"),
                                   std::string("\xF0\x9F\x98"), std::string("a\x80\x80z")}) {
    Diagnostic d;
    d.message = bytes;
    CHECK(first_invalid_utf8(to_text(d)) == std::string::npos);
  }
}

TEST_CASE("sorting keeps files in the order they were first named") {
  Diagnostics all = {at("b.toml", 3, 1, "b3"),          at("a.toml", 9, 1, "a9"),
                     at("b.toml", 1, 5, "b1.5"),        at("b.toml", 1, 2, "b1.2 first"),
                     at("b.toml", 1, 2, "b1.2 second"), at("a.toml", 2, 1, "a2")};
  Diagnostic nowhere;
  nowhere.message = "nowhere";
  all.push_back(nowhere);
  sort_by_place(all);
  std::vector<std::string> order;
  for (const Diagnostic& d : all) order.push_back(d.message);
  CHECK(order == std::vector<std::string>{"nowhere", "b1.2 first", "b1.2 second", "b1.5", "b3", "a2", "a9"});
}

TEST_CASE("errors are told from warnings") {
  Diagnostics d = {at("a", 1, 1, "x")};
  CHECK(has_errors(d));
  d[0].severity = Severity::warning;
  CHECK_FALSE(has_errors(d));
  CHECK_FALSE(has_errors({}));
  CHECK(Result<int>(3).ok());
  CHECK(Result<int>(3, d).ok());
  CHECK_FALSE(Result<int>(at("a", 1, 1, "x")).has_value());
  CHECK_FALSE(Result<int>(3, {at("a", 1, 1, "x")}).ok());
}

TEST_CASE("the nearest word, when it is near") {
  const std::vector<std::string> words = {"power", "pressure", "kW", "mbar", "rotation"};
  CHECK(nearest("presure", words) == "pressure");
  CHECK(nearest("PRESSURE", words) == "pressure");
  CHECK(nearest("rotatoin", words) == "rotation");  // two neighbours swapped count one
  CHECK(nearest("kw", words) == "kW");
  CHECK(nearest("pwoer", words) == "power");
  CHECK_FALSE(nearest("voltage", words).has_value());
  CHECK_FALSE(nearest("", words).has_value());
  CHECK_FALSE(nearest("mb", words).has_value());
  CHECK_FALSE(nearest(std::string(1000, 'p'), words).has_value());
  CHECK_FALSE(nearest("power", {}).has_value());
  CHECK(nearest("kW", {"KW", "kW"}) == "kW");  // the very word first
}
