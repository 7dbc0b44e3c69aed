// Whole complaints, caret included: every file in files/bad beside the text it must give, every file
// in files/good without a word. After a deliberate change of wording run once with
// VACUARY_WRITE_EXPECTED=1 and read the difference.
#include <doctest/doctest.h>

#include <cstdlib>
#include <set>

#include "plan/files.hpp"

using namespace vacuary;

namespace {

std::set<std::filesystem::path> files_in(const char* folder) {
  const auto path = std::filesystem::path(VACUARY_SOURCE_DIR) / "tests" / "plan" / "files" / folder;
  std::set<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(path)) {
    if (entry.path().extension() == ".toml") files.insert(entry.path());
  }
  return files;
}

}  // namespace

TEST_CASE("good plan files load without a word") {
  const auto files = files_in("good");
  REQUIRE(files.size() >= 9);
  for (const auto& path : files) {
    const std::string said = to_text(plan_files::load(path.filename().string(), plan_files::bytes_of(path)));
    INFO(path.filename().string());
    CHECK(said == "");
  }
}

TEST_CASE("bad plan files give exactly these complaints") {
  const auto files = files_in("bad");
  REQUIRE(files.size() >= 60);
  for (const auto& path : files) {
    const Diagnostics said = plan_files::load(path.filename().string(), plan_files::bytes_of(path));
    const auto expected = std::filesystem::path(path).replace_extension(".txt");
    if (std::getenv("VACUARY_WRITE_EXPECTED") != nullptr)
      REQUIRE(write_file(expected, to_text(said), true).ok());
    INFO(path.filename().string());
    CHECK(has_errors(said));
    CHECK(to_text(said) == plan_files::bytes_of(expected));
  }
}
