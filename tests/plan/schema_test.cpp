// The schemas and the reference in `schemas` are what the loader's tables say. After a change of the
// tables run this test once with VACUARY_WRITE_SCHEMAS=1 and look at the difference.
#include <doctest/doctest.h>

#include <cstdlib>

#include "plan/fields.hpp"

using namespace vacuary;

namespace {

void held_against(const std::string& file, const std::string& made) {
  const auto path = std::filesystem::path(VACUARY_SOURCE_DIR) / "schemas" / file;
  if (std::getenv("VACUARY_WRITE_SCHEMAS") != nullptr) REQUIRE(write_file(path, made, true).ok());
  const auto committed = read_file(path, largest_plan_file);
  INFO(file);
  REQUIRE(committed.ok());
  CHECK(committed.value() == made);
}

}  // namespace

TEST_CASE("the committed schemas are the tables'") {
  REQUIRE(plan::formats().size() == 6);
  for (const plan::Format& format : plan::formats()) held_against(format.file, plan::json_schema(format));
}

TEST_CASE("the committed reference is the tables'") { held_against("plan-files.md", plan::reference()); }

TEST_CASE("every field has a line of help, every choice too") {
  const auto visit = [](const auto& self, const plan::SectionInfo& section) -> void {
    for (const plan::FieldInfo& field : section.fields) {
      INFO(section.title << " " << field.key);
      CHECK_FALSE(field.help.empty());
      if (field.shape == plan::Shape::choice) CHECK_FALSE(field.choices.empty());
      for (const plan::Choice& choice : field.choices) CHECK_FALSE(std::string(choice.help).empty());
      if (field.section != nullptr) self(self, *field.section);
    }
  };
  for (const plan::Format& format : plan::formats()) visit(visit, *format.root);
}
