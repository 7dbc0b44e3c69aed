#include "record/bag.hpp"

#include <doctest/doctest.h>

#include <cstdlib>

#include "record/run_folder.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;

namespace {

RunFolder small_run() {
  RunFolder run;
  run.payload = {{"data/plan/recipe.toml", Bytes{"name = \"x\"\n"}, "Recipe 7.toml"},
                 {"data/log/log.csv", Bytes{"time,p\r\n0,1\r\n"}, "log.csv"},
                 {"data/report/report.txt", Bytes{""}, ""}};
  run.info = {{"External-Identifier", "run 1"}, {"Bagging-Date", "2031-03-04"}};
  return run;
}

std::string rules(const Diagnostics& diagnostics) {
  std::string out;
  for (const Diagnostic& d : diagnostics) out += (out.empty() ? "" : " ") + d.rule;
  return out;
}

// What verification says of the small run after `damage` was done to it.
template <class Damage>
std::string after(Damage damage) {
  const scratch::Folder folder;
  REQUIRE(write_run(folder.path("run"), small_run(), false).ok());
  damage(folder.path("run/"));
  return rules(verify_bag(folder.path("run")).diagnostics());
}

}  // namespace

TEST_CASE("a written run verifies, here and with sha256sum") {
  const scratch::Folder folder;
  const Result<WrittenRun> written = write_run(folder.path("run"), small_run(), false);
  REQUIRE(written.ok());
  const Result<Bag> bag = verify_bag(folder.path("run"));
  CHECK(to_text(bag.diagnostics()) == "");
  REQUIRE(bag.ok());
  CHECK(bag.value().files.size() == 3);
  CHECK(bag.value().octets == 24);
  CHECK(bag.value().about("payload-oxum") == "24.3");
  CHECK(bag.value().about("Original-Name") == "data/plan/recipe.toml Recipe 7.toml");
  CHECK(bag.value().tagmanifest_sha256 == written.value().tagmanifest_sha256);
  const scratch::Ran sums = scratch::run(
      "cd " + folder.path("run") + " && sha256sum --strict -c tagmanifest-sha256.txt manifest-sha256.txt");
  CHECK_MESSAGE(sums.exit == 0, sums.output);
  CHECK(scratch::get(folder.path("run/data/log/log.csv")) == "time,p\r\n0,1\r\n");
  // Nothing else is left in the folder.
  CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()) == 1);
}

TEST_CASE("every flipped byte and every shortened file of a run is noticed") {
  const scratch::Folder folder;
  REQUIRE(write_run(folder.path("run"), small_run(), false).ok());
  unsigned tried = 0;
  for (const auto& entry : fs::recursive_directory_iterator(folder.path("run"))) {
    if (!entry.is_regular_file()) continue;
    const std::string path = entry.path().string();
    const std::string whole = scratch::get(path);
    for (std::size_t i = 0; i < whole.size(); ++i) {
      std::string changed = whole;
      changed[i] = static_cast<char>(changed[i] ^ 1);
      scratch::put(path, changed);
      // A tag manifest proves the rest and nothing proves it, until it is signed.
      const bool itself = entry.path().filename() == "tagmanifest-sha256.txt";
      const Result<Bag> bag = verify_bag(folder.path("run"));
      CHECK_MESSAGE((!bag.ok() || (itself && bag.value().tagmanifest_sha256 != sha256_hex(whole))), path, " ",
                    i);
      scratch::put(path, whole.substr(0, i));
      const Result<Bag> cut = verify_bag(folder.path("run"));
      CHECK_MESSAGE((!cut.ok() || (itself && cut.value().tagmanifest_sha256 != sha256_hex(whole))), path,
                    " cut ", i);
      ++tried;
    }
    scratch::put(path, whole);
  }
  CHECK(tried > 500);
  CHECK(verify_bag(folder.path("run")).ok());
}

TEST_CASE("each kind of damage has its name") {
  using scratch::put;
  CHECK(after([](const std::string& run) { put(run + "data/log/log.csv", "time,p\r\n0,2\r\n"); }) ==
        "payload-changed");
  CHECK(after([](const std::string& run) { fs::remove(run + "data/log/log.csv"); }) ==
        "payload-missing payload-oxum");
  CHECK(after([](const std::string& run) { put(run + "data/extra", "x"); }) ==
        "payload-unlisted payload-oxum");
  CHECK(after([](const std::string& run) { fs::remove(run + "bag-info.txt"); }) == "tag-file-missing");
  CHECK(after([](const std::string& run) { put(run + "bagit.txt", "BagIt-Version: 0.97\n"); }) ==
        "bag-declaration tag-file-changed");
  CHECK(after([](const std::string& run) { fs::create_symlink("/etc/hostname", run + "data/link"); }) ==
        "link-in-bag");
  CHECK(after([](const std::string& run) { fs::create_directory_symlink("/etc", run + "data/folder"); }) ==
        "link-in-bag");
  CHECK(after([](const std::string& run) { fs::remove(run + "manifest-sha256.txt"); }) ==
        "bag-without-manifest tag-file-missing");
  CHECK(after([](const std::string& run) {
          put(run + "manifest-sha256.txt",
              scratch::get(run + "manifest-sha256.txt") + std::string(64, 'a') + "  data/../../outside\n");
        }) == "unsafe-path tag-file-changed");
}

TEST_CASE("a hostile manifest line is refused with its reason") {
  const auto complaint = [](const std::string& path) {
    const auto lines = parse_manifest("manifest-sha256.txt", std::string(64, '0') + "  " + path + "\n",
                                      Algorithm::sha256, ManifestOf::payload);
    return lines.diagnostics().empty() ? std::string{} : lines.diagnostics().front().message;
  };
  CHECK(complaint("data/a b.txt") == "");
  CHECK(complaint("data/100%25.txt") == "");
  CHECK(complaint("data/two%0Alines") == "");
  CHECK(complaint("data/two%0Alines/../../../x").find("'..'") != std::string::npos);
  CHECK(complaint("/etc/passwd").find("absolute") != std::string::npos);
  CHECK(complaint("~root/x").find("home folder") != std::string::npos);
  CHECK(complaint("data/../x").find("'..'") != std::string::npos);
  CHECK(complaint("data//x").find("empty part") != std::string::npos);
  CHECK(complaint("data\\x").find("backslash") != std::string::npos);
  CHECK(complaint("data/\x1b[2J").find("control") != std::string::npos);
  CHECK(complaint("data/\xff").find("UTF-8") != std::string::npos);
  CHECK(complaint("C:/x").find("drive") != std::string::npos);
  CHECK(complaint("bagit.txt").find("under data/") != std::string::npos);
  CHECK(complaint("data/" + std::string(5000, 'x')).find("4096") != std::string::npos);
}

TEST_CASE("tag files in other encodings are read") {
  CHECK(decode_text("f", "M\xFCller", "ISO-8859-1").value() == "M\xC3\xBCller");
  CHECK(decode_text("f",
                    std::string("\xFF\xFE"
                                "a\0b\0",
                                6),
                    "UTF-16")
            .value() == "ab");
  CHECK(decode_text("f", std::string("\0a\0b", 4), "utf-16be").value() == "ab");
  CHECK(decode_text("f", std::string("\xD8\x3D\xDE\x00", 4), "UTF-16").value() == "\xF0\x9F\x98\x80");
  CHECK_FALSE(decode_text("f", std::string("\xD8\x3D\0a", 4), "UTF-16BE").ok());
  CHECK_FALSE(decode_text("f", std::string("\xDE\x00", 2), "UTF-16BE").ok());
  CHECK_FALSE(decode_text("f", std::string("\0a\0", 3), "UTF-16BE").ok());
  CHECK_FALSE(decode_text("f", "\xC3", "UTF-8").ok());
  CHECK_FALSE(decode_text("f", "\xFC", "US-ASCII").ok());
  CHECK_FALSE(decode_text("f", "x", "EBCDIC-US").ok());
  CHECK(decode_text("f", std::string(10000, '\xFC'), "ISO-8859-1").value().size() == 20000);
}

TEST_CASE("the public BagIt conformance cases for version 1.0") {
  const char* open_data = std::getenv("VACUARY_OPEN_DATA");
  if (open_data == nullptr) {
    MESSAGE("skipped: VACUARY_OPEN_DATA is not set");
    return;
  }
  const fs::path suite = fs::path(open_data) / "bagit-conformance" / "v1.0";
  unsigned cases = 0;
  for (const auto& entry : fs::directory_iterator(suite / "valid")) {
    const Result<Bag> bag = verify_bag(entry.path().string());
    CHECK_MESSAGE(bag.ok(), entry.path().string(), "\n", to_text(bag.diagnostics()));
    ++cases;
  }
  const std::vector<std::pair<std::string, std::string>> invalid = {
      {"bagit-with-invalid-whitespace", "bag-declaration"},
      {"notAllManifestsListAllFiles", "payload-unlisted"},
      {"same-filename-listed-twice-with-different-hashes", "listed-twice"},
      {"same-filename-listed-twice-with-the-same-hash", "listed-twice"}};
  for (const auto& expected : invalid) {
    const std::string& name = expected.first;
    const std::string& rule = expected.second;
    const Result<Bag> bag = verify_bag((suite / "invalid" / name).string());
    CHECK_FALSE_MESSAGE(bag.ok(), name);
    CHECK_MESSAGE(rules(bag.diagnostics()).find(rule) != std::string::npos, name, ": ",
                  rules(bag.diagnostics()));
    ++cases;
  }
  CHECK(std::distance(fs::directory_iterator(suite / "invalid"), fs::directory_iterator()) ==
        static_cast<std::ptrdiff_t>(invalid.size()));
  CHECK(cases >= 5);
}
