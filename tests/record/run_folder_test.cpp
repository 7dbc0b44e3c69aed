#include "record/run_folder.hpp"

#include <doctest/doctest.h>

#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;

namespace {

RunFolder run_with(const std::string& text) {
  RunFolder run;
  run.payload = {{"data/report/report.txt", Bytes{text}, ""}};
  return run;
}

std::string rule_of(const Result<WrittenRun>& result) {
  return result.diagnostics().empty() ? "" : result.diagnostics().front().rule;
}

}  // namespace

TEST_CASE("an existing folder is replaced only with force, and never a signed one") {
  const scratch::Folder folder;
  const std::string run = folder.path("run");
  const std::string report = run + "/data/report/report.txt";
  REQUIRE(write_run(run, run_with("old"), false).ok());
  CHECK(rule_of(write_run(run, run_with("new"), false)) == "would-overwrite");
  CHECK(scratch::get(report) == "old");
  const Result<WrittenRun> replaced = write_run(run, run_with("new"), true);
  REQUIRE(replaced.ok());
  CHECK(replaced.value().replaced);
  CHECK(scratch::get(report) == "new");
  scratch::put(run + "/signatures/1-operator.txt", "x");
  CHECK(rule_of(write_run(run, run_with("newer"), true)) == "sealed-run");
  CHECK(scratch::get(report) == "new");
  CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()) == 1);
}

TEST_CASE("force does not replace what is not a run folder") {
  const scratch::Folder folder;
  scratch::put(folder.path("home/letter.txt"), "dear");
  CHECK(rule_of(write_run(folder.path("home"), run_with("x"), true)) == "would-overwrite");
  CHECK(rule_of(write_run(folder.path("home/letter.txt"), run_with("x"), true)) == "would-overwrite");
  CHECK(scratch::get(folder.path("home/letter.txt")) == "dear");
}

TEST_CASE("a missing log leaves nothing behind, and the old run as it was") {
  const scratch::Folder folder;
  REQUIRE(write_run(folder.path("run"), run_with("old"), false).ok());
  RunFolder run = run_with("new");
  run.payload.push_back({"data/log/log.csv", CopyOf{folder.path("no-such-log.csv")}, "log.csv"});
  CHECK_FALSE(write_run(folder.path("run"), run, true).ok());
  CHECK(scratch::get(folder.path("run/data/report/report.txt")) == "old");
  CHECK_FALSE(write_run(folder.path("other"), run, false).ok());
  CHECK_FALSE(write_run(folder.path("no-such-folder/run"), run_with("x"), false).ok());
  CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()) == 1);
}

TEST_CASE("a log is copied byte for byte, through a link too") {
  const scratch::Folder folder;
  std::string bytes;
  for (unsigned i = 0; i < 700'000; ++i) bytes += static_cast<char>(i * 2654435761U >> 24U);
  scratch::put(folder.path("log file.csv"), bytes);
  fs::create_symlink("log file.csv", folder.path("link.csv"));
  std::set<std::string> taken;
  RunFolder run;
  for (const std::string name : {"log file.csv", "link.csv"}) {
    run.payload.push_back({payload_path_for("data/log", name, taken), CopyOf{folder.path(name)}, name});
  }
  const Result<WrittenRun> written = write_run(folder.path("run"), run, false);
  CHECK(to_text(written.diagnostics()) == "");
  REQUIRE(written.ok());
  CHECK(scratch::get(folder.path("run/data/log/log_file.csv")) == bytes);
  CHECK(written.value().files.front().sha256 == sha256_hex(bytes));
  CHECK(written.value().octets == 2 * bytes.size());
  CHECK(verify_bag(folder.path("run")).ok());
}

TEST_CASE("names from outside become safe payload names") {
  std::set<std::string> taken;
  CHECK(payload_path_for("data/plan", "/some/where/recipe.toml", taken) == "data/plan/recipe.toml");
  CHECK(payload_path_for("data/plan", "Recipe.toml", taken) == "data/plan/Recipe-2.toml");
  CHECK(payload_path_for("data/plan", ".hidden", taken) == "data/plan/hidden");
  CHECK(payload_path_for("data/plan", "a b%c\n.csv", taken) == "data/plan/a_b_c_.csv");
  CHECK(payload_path_for("data/plan", "...", taken) == "data/plan/file");
  CHECK(payload_path_for("data/plan", std::string(300, 'x') + ".csv", taken).size() == 110);
}

TEST_CASE("unsafe or doubled payload paths are refused before anything is written") {
  const scratch::Folder folder;
  for (const std::string path :
       {"plan/x", "data/", "data/../x", "data/a b", "data/%41", "data/.x", "data/-x"}) {
    RunFolder run;
    run.payload = {{path, Bytes{"x"}, ""}};
    CHECK_MESSAGE(rule_of(write_run(folder.path("run"), run, false)) == "unsafe-path", path);
  }
  RunFolder run;
  run.payload = {{"data/x", Bytes{"x"}, ""}, {"data/X", Bytes{"y"}, ""}};
  CHECK(rule_of(write_run(folder.path("run"), run, false)) == "listed-twice");
  CHECK_FALSE(fs::exists(folder.path("run")));
}

TEST_CASE("odd names and values stay on their line of bag-info.txt") {
  const scratch::Folder folder;
  RunFolder run = run_with("x");
  run.payload.front().original_name = "a\nPayload-Oxum: 9.9\x80%";
  run.info = {{"External-Description", "one\nSource-Organization: forged\t "}};
  REQUIRE(write_run(folder.path("run"), run, false).ok());
  const Result<Bag> bag = verify_bag(folder.path("run"));
  REQUIRE(bag.ok());
  CHECK(bag.value().about("External-Description") == "one Source-Organization: forged");
  CHECK(bag.value().about("Source-Organization") == "");
  CHECK(bag.value().about("Original-Name") == "data/report/report.txt a%0APayload-Oxum: 9.9%80%25");
}

TEST_CASE("a log that changed after it was read is refused, one that grew is kept whole and told") {
  const scratch::Folder folder;
  const std::string bytes(600'000, 'x');
  scratch::put(folder.path("log.csv"), bytes);
  RunFolder run;
  const auto with = [&](const std::string& read) {
    run.payload = {
        {"data/log/log.csv", CopyOf{folder.path("log.csv"), ReadBefore{read.size(), sha256_hex(read)}}, ""}};
    return write_run(folder.path("run"), run, false);
  };
  std::string changed = bytes;
  changed[300'000] = 'y';
  for (const std::string& other : {changed, bytes + "more", std::string("other")}) {
    CHECK(rule_of(with(other)) == "changed-meanwhile");
    CHECK_FALSE(fs::exists(folder.path("run")));
  }
  for (const std::size_t read : {std::size_t{0}, std::size_t{1}, std::size_t{262'144}, bytes.size() - 1}) {
    const Result<WrittenRun> grown = with(bytes.substr(0, read));
    CHECK(rule_of(grown) == "read-in-part");
    REQUIRE(grown.ok());
    CHECK(verify_bag(folder.path("run")).ok());
    fs::remove_all(folder.path("run"));
  }
  CHECK(rule_of(with(bytes)) == "");
}
