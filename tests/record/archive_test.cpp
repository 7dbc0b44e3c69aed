#include "record/archive.hpp"

#include <doctest/doctest.h>

#include <mutex>
#include <thread>

#include "plant.hpp"
#include "record/run_folder.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;
using plant::rules;

namespace {

// An archive with three runs.
class Archive {
 public:
  Archive() {
    REQUIRE(create_archive(path()).ok());
    for (unsigned n = 1; n <= 3; ++n) {
      const std::string run = p.path("run-" + std::to_string(n));
      REQUIRE(write_run(run, plant::Plant::folder(std::to_string(n) + ",1\n", "TR-2031-" + std::to_string(n)),
                        false)
                  .ok());
      REQUIRE(p.sign_all(run));
      const Result<Added> added = add(run);
      REQUIRE_MESSAGE(added.ok(), to_text(added.diagnostics()));
      CHECK(added.value().entry.number == n);
    }
  }
  [[nodiscard]] std::string path(const std::string& name = "") const {
    return p.path("archive") + (name.empty() ? "" : "/" + name);
  }
  [[nodiscard]] Result<Added> add(const std::string& run) const {
    return add_to_archive({path(), run, p.trust(), plant::at("2031-03-05T08:00:00Z"), 200});
  }
  [[nodiscard]] Result<ArchiveCheck> verify(const std::string& saved_head = "") const {
    return verify_archive({path(), p.trust(), saved_head, 2, true});
  }
  // The errors after some damage, which is then undone.
  template <class Damage>
  [[nodiscard]] std::string after(Damage damage, const std::string& saved_head = "") const {
    const std::string keep = p.path("keep");
    fs::remove_all(keep);
    fs::copy(path(), keep, fs::copy_options::recursive);
    damage();
    const Result<ArchiveCheck> check = verify(saved_head);
    std::string said;
    for (const Diagnostic& d : check.diagnostics()) {
      if (d.severity == Severity::error) said += (said.empty() ? "" : " ") + d.rule;
    }
    fs::remove_all(path());
    fs::rename(keep, path());
    return said;
  }
  plant::Plant p;
};

}  // namespace

TEST_CASE("archived runs verify, here and with sha256sum") {
  const Archive a;
  const Result<ArchiveCheck> check = a.verify();
  CHECK(to_text(check.diagnostics()) == "");
  CHECK(check.value().runs == 3);
  CHECK(check.value().octets > 0);
  const scratch::Ran sums =
      scratch::run("cd " + a.path() + " && sha256sum --strict --quiet -c head.txt ledger/*/*.txt");
  CHECK_MESSAGE(sums.exit == 0, sums.output);
  const Result<ArchiveCheck> own = verify_archive({a.path(), Trust{}, "", 1, false});
  CHECK(rules(own) == "signers-from-archive");
  CHECK(own.ok());
}

TEST_CASE("an archived run comes out as it went in") {
  const Archive a;
  const std::string out = a.p.path("out");
  REQUIRE(export_run(a.path(), 2, out).ok());
  CHECK(scratch::run("diff -r " + out + " " + a.p.path("run-2")).exit == 0);
  CHECK(rules(export_run(a.path(), 2, out)) == "would-overwrite");
  CHECK(rules(export_run(a.path(), 9, a.p.path("other"))) == "entry-missing");
}

TEST_CASE("only whole, fully signed runs are archived, and the complaint names the user's folder") {
  const Archive a;
  const std::string run = a.p.path("run-4");
  REQUIRE(write_run(run, plant::Plant::folder("4,1\n"), false).ok());
  const Result<Added> refused = a.add(run);
  CHECK(rules(refused) == "role-unsigned role-unsigned role-unsigned");
  CHECK(refused.diagnostics().front().where->file.rfind(run, 0) == 0);
  REQUIRE(a.p.sign_all(run));
  scratch::put(run + "/data/log/log.csv", "forged\n");
  CHECK(rules(a.add(run)).find("payload-changed") == 0);
  CHECK(rules(a.verify()) == "");
  CHECK(rules(add_to_archive({a.p.path("run-1"), run, a.p.trust(), {}, 0})) == "not-an-archive");
}

TEST_CASE("a run with an absurd name does not break the ledger") {
  const Archive a;
  const std::string run = a.p.path("run-odd");
  RunFolder folder = plant::Plant::folder("odd\n");
  folder.info[0].second = std::string(150, 'x') + std::string(100, '\xC3');
  for (std::size_t i = 151; i < 250; i += 2) folder.info[0].second[i] = '\xA9';
  REQUIRE(write_run(run, folder, false).ok());
  REQUIRE(a.p.sign_all(run));
  REQUIRE(a.add(run).ok());
  CHECK(a.verify().ok());
  CHECK(read_entry(a.path(), 4).value().run.size() == 200);
}

TEST_CASE("each tampering with an archive has its name") {
  const Archive a;
  using scratch::get;
  using scratch::put;
  const std::string entry2 = a.path("ledger/00000/00000002.txt");
  const std::string bag2 = a.path("bags/00000/00000002/");
  const auto edit = [](const std::string& file, const std::string& from, const std::string& to) {
    std::string text = get(file);
    REQUIRE(text.find(from) != std::string::npos);
    put(file, text.replace(text.find(from), from.size(), to));
  };
  const auto swap = [](const std::string& x, const std::string& y) {
    fs::rename(x, x + ".swap");
    fs::rename(y, x);
    fs::rename(x + ".swap", y);
  };
  CHECK(a.after([] {}) == "");
  CHECK(a.after([&] { edit(bag2 + "data/log/log.csv", "2,1", "2,9"); }) == "payload-changed");
  CHECK(a.after([&] { edit(entry2, "TR-2031-2", "TR-2031-9"); }) == "entry-edited");
  CHECK(a.after([&] { edit(a.path("ledger/00000/00000003.txt"), "TR-2031-3", "TR-2031-9"); }) ==
        "entry-edited");
  CHECK(a.after([&] { fs::remove(entry2); }) == "entry-missing bag-not-in-ledger");
  CHECK(a.after([&] { fs::remove_all(bag2); }) == "bag-missing");
  CHECK(a.after([&] {
    fs::remove(entry2);
    fs::remove_all(bag2);
  }) == "entry-missing");
  CHECK(a.after([&] { swap(entry2, a.path("ledger/00000/00000003.txt")); }).find("entry-misplaced") !=
        std::string::npos);
  CHECK(a.after([&] {
           swap(a.path("bags/00000/00000001"), a.path("bags/00000/00000002"));
         }).find("ledgered-file-changed") != std::string::npos);
  CHECK(a.after([&] {
    fs::copy(a.path("bags/00000/00000001"), a.path("bags/00000/00000007"), fs::copy_options::recursive);
  }) == "bag-not-in-ledger");
  CHECK(a.after([&] { edit(a.path("head.txt"), "# entries: 3", "# entries: 2"); }) == "ledger-form");
}

TEST_CASE("a swapped signature, a changed signers file, a rolled back ledger") {
  const Archive a;
  const std::string saved = a.p.path("saved-head.txt");
  fs::copy(a.path("head.txt"), saved);
  const std::string bag2 = a.path("bags/00000/00000002/");
  // A signature that is good by itself: signed again later by the same key.
  CHECK(a.after([&] {
    fs::remove(bag2 + "signatures/3-quality.txt");
    fs::remove(bag2 + "signatures/3-quality.txt.sig");
    REQUIRE(sign_run({bag2, "quality", a.p.key("quality"), Disposition::reject, "changed my mind", "X",
                      plant::at("2031-03-06T00:00:00Z")},
                     a.p.trust())
                .ok());
  }) == "ledgered-file-changed ledgered-file-changed");
  CHECK(a.after([&] { scratch::put(bag2 + "signatures/4-director.txt", "x"); }).find("signature-added") == 0);
  CHECK(a.after([&] { scratch::put(fs::directory_iterator(a.path("signers"))->path().string(), "x"); }) ==
        "signers-changed signers-changed signers-changed");
  // Without a saved head, a ledger that is rolled back as a whole looks like an older archive.
  const auto roll_back = [&] {
    fs::remove(a.path("ledger/00000/00000003.txt"));
    fs::remove_all(a.path("bags/00000/00000003"));
    const Result<Entry> last = read_entry(a.path(), 2);
    scratch::put(a.path("head.txt"), to_text(Head{2, last.value().sha256}));
  };
  CHECK(a.after(roll_back) == "");
  CHECK(a.after(roll_back, saved) == "ledger-rolled-back");
  CHECK(a.after(
            [&] {
              roll_back();
              REQUIRE(a.add(a.p.path("run-1")).ok());
            },
            saved) == "ledger-rewritten");
  CHECK(a.after([] {}, saved) == "");
}

TEST_CASE("every flipped byte in an archive is noticed") {
  const Archive a;
  unsigned tried = 0;
  for (const auto& entry : fs::recursive_directory_iterator(a.path())) {
    if (!entry.is_regular_file()) continue;
    const std::string path = entry.path().string();
    const std::string whole = scratch::get(path);
    for (std::size_t i = 0; i < whole.size(); i += 61) {
      std::string changed = whole;
      changed[i] = static_cast<char>(changed[i] ^ 4);
      scratch::put(path, changed);
      CHECK_MESSAGE(!a.verify().ok(), path, " ", i);
      ++tried;
    }
    scratch::put(path, whole);
  }
  CHECK(tried > 200);
  CHECK(a.verify().ok());
}

TEST_CASE("a stamp over a ledger entry, by an authority of the test's own, is checked") {
  const Archive a;
  CHECK(request_entry_stamp(a.path(), 3).ok());
  CHECK(rules(add_entry_stamp(a.path(), 3, "junk", "/dev/null")) == "stamp-form");
  CHECK_FALSE(request_entry_stamp(a.path(), 9).ok());
}

TEST_CASE("two writers at once: both runs are archived, one after the other") {
  const Archive a;
  for (const char* run : {"run-5", "run-6"}) {
    REQUIRE(write_run(a.p.path(run), plant::Plant::folder(std::string(run) + ",1\n", run), false).ok());
    REQUIRE(a.p.sign_all(a.p.path(run)));
  }
  const Trust trust = a.p.trust();
  std::vector<bool> done(2);
  std::vector<std::thread> writers;
  for (unsigned i = 0; i < 2; ++i) {
    writers.emplace_back([&, i] {
      const bool ok =
          add_to_archive({a.path(), a.p.path(i == 0 ? "run-5" : "run-6"), trust, {}, 60'000}).ok();
      static std::mutex guard;
      const std::lock_guard<std::mutex> lock(guard);
      done[i] = ok;
    });
  }
  for (std::thread& w : writers) w.join();
  CHECK(done[0]);
  CHECK(done[1]);
  CHECK(a.verify().value().runs == 5);
  std::unique_ptr<Lock> held;
  REQUIRE(real_disk().lock(a.path(), held) == 0);
  CHECK(rules(a.add(a.p.path("run-5"))) == "archive-busy");
}

TEST_CASE("a new revision in the archive names one that is there") {
  const Archive a;
  const std::string next = a.p.path("run-1b");
  REQUIRE(revise_run(a.p.path("run-1"), next, {{"data/measured/a.txt", Bytes{"x"}, ""}},
                     {{"External-Identifier", "TR-2031-1"}})
              .ok());
  REQUIRE(a.p.sign_all(next));
  REQUIRE(a.add(next).ok());
  CHECK(rules(a.verify()) == "");
  const std::string orphan = a.p.path("run-x"), orphan2 = a.p.path("run-x2");
  REQUIRE(write_run(orphan, plant::Plant::folder("x\n"), false).ok());
  REQUIRE(revise_run(orphan, orphan2, {}, {{"External-Identifier", "TR-2031-x"}}).ok());
  REQUIRE(a.p.sign_all(orphan2));
  REQUIRE(a.add(orphan2).ok());
  CHECK(rules(a.verify()) == "origin-not-archived");
}
