// Every error text, with the place it points at: under each text the caret line, then what is said.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <fstream>
#include <map>
#include <sstream>

#include "any_kind.hpp"
#include "base/source.hpp"

using namespace vacuary;

namespace {

Kind kind_named(const std::string& wanted) {
  for (int i = 0; i < any_kind::kind_count; ++i) {
    if (name(static_cast<Kind>(i)) == wanted) return static_cast<Kind>(i);
  }
  FAIL("no kind is called " << wanted);
  return Kind::count;
}

std::optional<TextProblem> problem_of(const std::string& text, Kind kind) {
  return any_kind::with_type(kind, [&](auto sample) -> std::optional<TextProblem> {
    auto read = parse<decltype(sample)>(text);
    if (auto* problem = std::get_if<TextProblem>(&read)) return *problem;
    return std::nullopt;
  });
}

// Column and width in code points, as a person counts them.
std::string shown(const std::string& text, const TextProblem& problem) {
  const Place place = Source("", text).place(problem.offset, problem.length);
  std::string caret = std::string(place.column - 1, ' ') + "^" + std::string(place.width - 1, '~');
  return fmt::format("|{}|\n|{}\n{}\n{}\n", text, caret, problem.message, problem.remedy);
}

}  // namespace

TEST_CASE("each bad text gives its pinned complaint") {
  std::ifstream file(VACUARY_SOURCE_DIR "/tests/quantity/problems.txt");
  REQUIRE(file.good());
  int cases = 0;
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#') continue;
    REQUIRE_MESSAGE(line.substr(0, 3) == "== ", line);
    const Kind kind = kind_named(line.substr(3));
    std::string text_line;
    std::string expected;
    for (int i = 0; i < 4 && std::getline(file, line); ++i) {
      if (i == 0) text_line = line;
      expected += line + "\n";
    }
    REQUIRE(text_line.size() >= 2);
    const std::string text = text_line.substr(1, text_line.size() - 2);
    const auto problem = problem_of(text, kind);
    REQUIRE_MESSAGE(problem.has_value(), "accepted: " << text);
    CHECK(problem->offset <= text.size());
    CHECK(problem->offset + problem->length <= text.size());
    CHECK(shown(text, *problem) == expected);
    ++cases;
  }
  CHECK(cases >= 50);
}

TEST_CASE("a unit alone points into the unit") {
  const auto bad = parse_unit(" mbar l/q", Kind::flow);
  REQUIRE(std::holds_alternative<TextProblem>(bad));
  CHECK(std::get<TextProblem>(bad).offset == 8);
  CHECK(std::get<TextProblem>(bad).message == "unknown unit 'q'");
  const auto empty = parse_unit("  ", Kind::flow);
  REQUIRE(std::holds_alternative<TextProblem>(empty));
  CHECK(std::get<TextProblem>(empty).message == "the unit of a gas flow is missing");
}

TEST_CASE("hostile texts are refused without fuss") {
  for (const std::string& unit :
       {std::string(5000, 'm'), std::string("km9 km9 km9 km9 km9 km9 km9 km9 km9"),
        std::string("km9 km9 km9 km9 km9/nm9/nm9/nm9"), std::string("m99"), std::string("m0"),
        std::string("\xFF\xFE"), std::string("m\0m", 3), std::string("/"), std::string("*"),
        std::string("m//s"), std::string("m**s"), std::string("m^"), std::string("m-")}) {
    CHECK(std::holds_alternative<TextProblem>(parse_unit(unit, Kind::length)));
    CHECK(std::holds_alternative<TextProblem>(parse_unit_of_any_kind(unit)));
    CHECK(problem_of("1 " + unit, Kind::length).has_value());
  }
  CHECK(problem_of(std::string(100000, '9') + " W", Kind::power).has_value());
  CHECK(problem_of("1" + std::string(400, '0') + "e-99999999999999999999 W", Kind::power).has_value());
}

TEST_CASE("a long quotation is cut between code points") {
  std::string unit;
  for (int i = 0; i < 30; ++i) unit += "\u00E9";
  const auto bad = parse_unit("x" + unit, Kind::length);
  REQUIRE(std::holds_alternative<TextProblem>(bad));
  const std::string& message = std::get<TextProblem>(bad).message;
  CHECK(message ==
        "unknown unit 'x\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9\u00E9"
        "\u00E9\u00E9\u00E9\u00E9\u00E9...'");
}
