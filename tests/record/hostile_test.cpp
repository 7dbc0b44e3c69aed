// Bags that somebody made to do harm.
#include <doctest/doctest.h>
#include <sys/stat.h>

#include "plant.hpp"
#include "record/archive.hpp"
#include "record/bag.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;
using plant::rules;

namespace {

// A bag of files with right manifests, made by hand so that it can hold anything.
struct HandMade {
  HandMade() {
    add("data/log.csv", "time\n0\n");
    scratch::put(folder.path("bag/bagit.txt"), "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
  }
  void add(const std::string& path, const std::string& bytes) {
    scratch::put(folder.path("bag/" + path), bytes);
    manifest += sha256_hex(bytes) + "  " + path + "\n";
  }
  std::string verified() {
    scratch::put(folder.path("bag/manifest-sha256.txt"), manifest);
    return rules(verify_bag(folder.path("bag")));
  }
  [[nodiscard]] std::string run_verified() {
    const std::string said = verified();
    return said.empty() ? rules(verify_run(folder.path("bag"), Trust{})) : said;
  }
  scratch::Folder folder;
  std::string manifest;
};

}  // namespace

TEST_CASE("a pipe, a socket's place or a device in a bag neither hangs nor passes") {
  HandMade bag;
  REQUIRE(::mkfifo(bag.folder.path("bag/data/pipe").c_str(), 0600) == 0);
  CHECK(bag.verified() == "odd-file-in-bag");
  fs::remove(bag.folder.path("bag/data/pipe"));
  fs::remove(bag.folder.path("bag/bagit.txt"));
  REQUIRE(::mkfifo(bag.folder.path("bag/bagit.txt").c_str(), 0600) == 0);
  CHECK(bag.verified().find("bag-declaration") != std::string::npos);
}

TEST_CASE("links out of the bag are named and not followed") {
  HandMade bag;
  const std::string secret = bag.folder.path("secret");
  scratch::put(secret, "secret");
  bag.manifest += sha256_hex("secret") + "  data/link\n";
  fs::create_symlink(secret, bag.folder.path("bag/data/link"));
  CHECK(bag.verified() == "link-in-bag payload-missing");
  fs::remove(bag.folder.path("bag/data/link"));
  fs::remove(bag.folder.path("bag/bagit.txt"));
  fs::create_symlink(secret, bag.folder.path("bag/bagit.txt"));
  CHECK(bag.verified().find("link-in-bag") == 0);
}

TEST_CASE("an absurdly large tag file is refused without being read into memory") {
  HandMade bag;
  scratch::put(bag.folder.path("bag/bag-info.txt"), "x");
  fs::resize_file(bag.folder.path("bag/bag-info.txt"), std::uintmax_t{1} << 36U);  // sparse
  CHECK(bag.verified() == "disk-fault");
}

TEST_CASE("a payload too deep, absurd counts, things to fetch") {
  HandMade bag;
  std::string deep = "data";
  for (unsigned i = 0; i < 40; ++i) deep += "/d";
  bag.add(deep + "/x", "x");
  CHECK(bag.verified().find("odd-file-in-bag") == 0);
  HandMade oxum;
  scratch::put(oxum.folder.path("bag/bag-info.txt"), "Payload-Oxum: 99999999999999999999999999.1\n");
  CHECK(oxum.verified() == "payload-oxum");
  HandMade twice;
  scratch::put(twice.folder.path("bag/bag-info.txt"), "Payload-Oxum: 7.1\npayload-oxum: 7.1\n");
  CHECK(twice.verified() == "payload-oxum");
  HandMade fetch;
  fetch.manifest += sha256_hex("x") + "  data/far\n";
  scratch::put(fetch.folder.path("bag/fetch.txt"),
               "https://example.org/x 1 data/far\nhttps://example.org/y 1 data/../y\n");
  CHECK(fetch.verified() == "payload-missing unsafe-path not-fetched");
}

TEST_CASE("names that look alike or need encoding are no names of a run folder") {
  HandMade plain;
  CHECK(plain.run_verified().find("unsafe-path") == std::string::npos);
  for (const char* name :
       {"data/rep\xD0\xBErt.txt", "data/a b.txt", "data/cafe\xCC\x81.txt", "data/.hidden", "data/-rf"}) {
    HandMade bag;
    bag.add(name, "x");
    CHECK_MESSAGE(bag.verified() == "", name);  // a good bag all the same
    CHECK_MESSAGE(bag.run_verified().find("unsafe-path") != std::string::npos, name);
  }
  HandMade alike;
  alike.add("data/LOG.csv", "x");
  CHECK(alike.verified() == "look-alike-name");
}

TEST_CASE("a tag file of nothing but bad lines is not answered with a complaint for each") {
  HandMade bag;
  scratch::put(bag.folder.path("bag/bag-info.txt"), std::string(5'000'000, '\n'));
  scratch::put(bag.folder.path("bag/fetch.txt"), std::string(5'000'000, '\r'));
  for (unsigned i = 0; i < 3000; ++i)
    bag.manifest += std::string(64, '0') + "  data/missing-" + std::to_string(i) + "\n";
  (void)bag.verified();
  const Result<Bag> checked = verify_bag(bag.folder.path("bag"));
  CHECK_FALSE(checked.ok());
  CHECK(checked.diagnostics().size() < 500);
}

TEST_CASE("weak checksums alone are warned about") {
  HandMade bag;
  CHECK(bag.verified() == "");
  fs::remove(bag.folder.path("bag/manifest-sha256.txt"));
  Hasher md5(Algorithm::md5);
  md5.add("time\n0\n");
  scratch::put(bag.folder.path("bag/manifest-md5.txt"), md5.hex() + "  data/log.csv\n");
  const Result<Bag> checked = verify_bag(bag.folder.path("bag"));
  CHECK(rules(checked) == "weak-checksum");
  scratch::put(bag.folder.path("bag/data/log.csv"), "time\n1\n");
  CHECK_FALSE(verify_bag(bag.folder.path("bag")).ok());
}

TEST_CASE("a hostile head or ledger name does not keep the verifier busy") {
  const plant::Plant p;
  REQUIRE(create_archive(p.path("archive")).ok());
  scratch::put(p.path("archive/head.txt"), "# vacuary-head 1\n# entries: 18446744073709551615\n" +
                                               std::string(64, 'a') + "  " +
                                               entry_path(18446744073709551615ULL) + "\n");
  const Result<ArchiveCheck> check = verify_archive({p.path("archive"), p.trust(), "", 1, true});
  CHECK_FALSE(check.ok());
  CHECK(check.diagnostics().size() < 1100);
  scratch::put(p.path("archive/head.txt"), to_text(Head{}));
  scratch::put(p.path("archive/ledger/99999/99999999.txt"), "x");
  const Result<ArchiveCheck> other = verify_archive({p.path("archive"), p.trust(), "", 1, true});
  CHECK_FALSE(other.ok());
  CHECK(other.diagnostics().size() < 1100);
}
