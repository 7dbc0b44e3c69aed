// Every bad case says exactly what stands beside it, every good case says nothing.
//
// With VACUARY_REGENERATE=1 in the environment the expected texts are written instead of compared.
// Read the difference afterwards as the process engineer would who gets to see it.
#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <set>

#include "check/sample.hpp"

using namespace vacuary;
using namespace vacuary::check_test;

namespace {

bool regenerating() {
  const char* wish = std::getenv("VACUARY_REGENERATE");
  return wish != nullptr && std::string(wish) == "1";
}

const std::vector<Case>& bad_cases() {
  static const std::vector<Case> cases = cases_in(folder / "bad");
  return cases;
}

}  // namespace

TEST_CASE("each bad recipe gives exactly the text beside it") {
  for (const Case& c : bad_cases()) {
    CAPTURE(c.name);
    const std::filesystem::path expected = folder / "bad" / (c.name + ".txt");
    const std::string said = to_text(findings(c));
    CHECK_FALSE(said.empty());
    if (regenerating()) {
      std::ofstream(expected, std::ios::binary) << said;
    } else {
      REQUIRE(std::filesystem::exists(expected));
      CHECK(said == text_of(expected));
    }
  }
  CHECK(bad_cases().size() >= 50);
}

TEST_CASE("each expected text belongs to a case") {
  std::set<std::string> names;
  for (const Case& c : bad_cases()) names.insert(c.name);
  for (const auto& entry : std::filesystem::directory_iterator(folder / "bad")) {
    CAPTURE(entry.path().filename().string());
    CHECK(names.count(entry.path().stem().string()) == 1);
  }
}

TEST_CASE("the sample recipe has no finding") {
  Case c;
  c.files = sample();
  CHECK(to_text(findings(c)) == "");
}

TEST_CASE("recipes just inside the bounds have no finding") {
  const std::vector<Case> good = cases_in(folder / "good");
  for (const Case& c : good) {
    CAPTURE(c.name);
    CHECK(to_text(findings(c)) == "");
  }
  CHECK_FALSE(good.empty());
}

TEST_CASE("every rule that speaks is in the table, and every rule in the table speaks in a bad case") {
  std::set<std::string> spoke;
  for (const Case& c : bad_cases()) {
    for (const Diagnostic& d : findings(c)) {
      CAPTURE(c.name);
      CAPTURE(d.rule);
      CHECK(check::find_rule(d.rule) != nullptr);
      spoke.insert(d.rule);
    }
  }
  // Spoken by `calibrate` and `shield` of things no recipe shows; their own tests make them speak.
  const std::set<std::string> of_the_bench = {"strip-does-not-fit", "strip-point-off",
                                              "strip-tells-too-little", "shield-cannot-even-out",
                                              "shield-not-possible"};
  for (const check::Rule& rule : check::rules()) {
    CAPTURE(rule.name);
    CHECK(spoke.count(rule.name) == (of_the_bench.count(rule.name) == 1 ? 0 : 1));
  }
}

TEST_CASE("a finding points at a line, and an error of a rule says what mends it") {
  for (const Case& c : bad_cases()) {
    for (const Diagnostic& d : findings(c)) {
      CAPTURE(c.name);
      CAPTURE(to_text(d));
      CHECK(d.where.has_value());
      CHECK_FALSE(d.message.empty());
      CHECK(d.message.find('\n') == std::string::npos);
      CHECK_FALSE(d.remedy.empty());
    }
  }
}

TEST_CASE("rules have plain unique names, one line of summary and an explanation") {
  std::set<std::string> names;
  for (const check::Rule& rule : check::rules()) {
    CAPTURE(rule.name);
    CHECK(names.insert(rule.name).second);
    CHECK(rule.name.find_first_not_of("abcdefghijklmnopqrstuvwxyz-") == std::string::npos);
    CHECK_FALSE(rule.summary.empty());
    CHECK(rule.summary.find('\n') == std::string::npos);
    CHECK(rule.explanation.size() > 80);
    CHECK(rule.explanation.back() == '.');
  }
  CHECK(check::find_rule("no-such-rule") == nullptr);
}

TEST_CASE("a case says in words what is wrong with it") {
  for (const Case& c : bad_cases()) {
    CAPTURE(c.name);
    const bool whole = c.recipe != recipe_name;
    CHECK((whole || c.says.size() > 10));
  }
}
