// Nothing is lost: at every operation, a power cut, an error, or a disk that dies for good.
#include <doctest/doctest.h>

#include "memory_disk.hpp"
#include "plant.hpp"
#include "record/archive.hpp"
#include "record/signing.hpp"

using namespace vacuary;
using namespace vacuary::record;
using testing_disk::FailingDisk;
using testing_disk::MemoryDisk;

namespace {

constexpr unsigned random_cuts = 6;  // at each operation, besides the two extremes

// A memory disk with an archive of one run, a second run to add, and an unsigned third one.
struct World {
  World() {
    for (const char* name : {"one", "two"}) {
      REQUIRE(write_run(p.path(name), plant::Plant::folder(std::string(name) + ",1\n", name), false).ok());
      REQUIRE(p.sign_all(p.path(name)));
      transfer(real_disk(), p.path(name), disk, name);
    }
    transfer(real_disk(), p.run(), disk, "three");
    REQUIRE(create_archive("archive", disk).ok());
    REQUIRE(add(disk, "one").ok());
  }
  [[nodiscard]] Result<Added> add(Disk& to, const std::string& run) const {
    return add_to_archive({"archive", run, trust, plant::at("2031-03-05T08:00:00Z"), 0}, to);
  }
  // The number of runs, or a complaint about the archive.
  [[nodiscard]] std::string state(Disk& of) const {
    const Result<ArchiveCheck> check = verify_archive({"archive", trust, "", 1, true}, of);
    if (!check.ok()) return to_text(check.diagnostics());
    for (const Diagnostic& d : check.diagnostics()) {
      if (d.rule != "interrupted-add") return d.rule;
    }
    return std::to_string(check.value().runs);
  }
  plant::Plant p;
  Trust trust = p.trust();
  MemoryDisk disk;
};

// Runs `operation` on a copy of `disk` and hands what each power cut leaves to `judge`.
template <class Operation, class Judge>
unsigned cut_everywhere(const MemoryDisk& disk, Operation operation, Judge judge) {
  MemoryDisk recording = disk;
  std::vector<MemoryDisk> moments = {recording};
  recording.after_change = [&] {
    moments.push_back(recording);
    moments.back().after_change = nullptr;
  };
  operation(recording);
  std::mt19937 dice(8493);
  unsigned cuts = 0;
  for (const MemoryDisk& moment : moments) {
    for (unsigned i = 0; i < random_cuts + 2; ++i) {
      const auto luck = i == 0   ? MemoryDisk::Luck::everything_lost
                        : i == 1 ? MemoryDisk::Luck::everything_kept
                                 : MemoryDisk::Luck::random;
      MemoryDisk left = moment.after_power_cut(luck, dice);
      judge(left);
      ++cuts;
    }
  }
  return cuts;
}

// Runs `operation` with an error at each of its operations in turn; `judge` sees the disk and the result.
template <class Operation, class Judge>
unsigned fail_everywhere(const MemoryDisk& disk, Operation operation, Judge judge) {
  unsigned faults = 0;
  for (const bool for_good : {false, true}) {
    for (const Errno error : {EIO, ENOSPC}) {
      for (std::size_t at = 1;; ++at) {
        MemoryDisk copy = disk;
        FailingDisk failing(copy, at, error, for_good);
        const bool done = operation(failing);
        judge(copy, done);
        if (failing.operations < at) break;
        ++faults;
      }
    }
  }
  return faults;
}

}  // namespace

TEST_CASE("archive add: whatever a power cut leaves is the archive before or after, and goes on") {
  const World w;
  unsigned before = 0, after = 0;
  const unsigned cuts = cut_everywhere(
      w.disk, [&](Disk& disk) { REQUIRE(w.add(disk, "two").ok()); },
      [&](MemoryDisk& left) {
        const std::string state = w.state(left);
        REQUIRE_MESSAGE((state == "1" || state == "2"), state);
        (state == "1" ? before : after) += 1;
        const Result<Added> next = w.add(left, "two");
        REQUIRE_MESSAGE(next.ok(), to_text(next.diagnostics()));
        CHECK(next.value().entry.number == (state == "1" ? 2 : 3));
        CHECK(w.state(left) == (state == "1" ? "2" : "3"));
        const Result<ArchiveCheck> clean = verify_archive({"archive", w.trust, "", 1, true}, left);
        CHECK(to_text(clean.diagnostics()) == "");
      });
  MESSAGE("power cuts during archive add: ", cuts, " (", before, " before, ", after, " after)");
  CHECK(cuts >= 500);
  CHECK(before > 0);
  CHECK(after > 0);
}

TEST_CASE("archive add: once it has said yes, a power cut takes nothing back") {
  const World w;
  MemoryDisk disk = w.disk;
  REQUIRE(w.add(disk, "two").ok());
  std::mt19937 dice(1);
  for (unsigned i = 0; i < 200; ++i) {
    MemoryDisk left =
        disk.after_power_cut(i == 0 ? MemoryDisk::Luck::everything_lost : MemoryDisk::Luck::random, dice);
    CHECK(w.state(left) == "2");
  }
}

TEST_CASE("archive add: an error at any operation leaves the archive before or after") {
  const World w;
  const unsigned faults = fail_everywhere(
      w.disk, [&](Disk& disk) { return w.add(disk, "two").ok(); },
      [&](MemoryDisk& left, bool done) {
        const std::string state = w.state(left);
        REQUIRE_MESSAGE((state == "1" || state == "2"), state);
        if (done) CHECK(state == "2");
        CHECK(w.add(left, "two").ok());
      });
  MESSAGE("errors during archive add: ", faults);
  CHECK(faults >= 500);
}

TEST_CASE("archive add: the work does not grow with the archive") {
  const World w;
  const auto operations_after = [&](std::uint64_t entries) {
    MemoryDisk disk = w.disk;
    if (entries > 1)
      REQUIRE(replace_file(disk, "archive/head.txt", to_text(Head{entries, std::string(64, 'a')})) == 0);
    FailingDisk counting(disk, 0, 0, false);
    REQUIRE(w.add(counting, "two").ok());
    return counting.operations;
  };
  const std::size_t small = operations_after(1), large = operations_after(99'500);
  CHECK(large >= small);
  CHECK(large <= small + 2);  // the first of a thousand makes its two folders, which have to be synced
}

TEST_CASE("write_run: the name means nothing, the old run or the new one, never a part") {
  MemoryDisk empty;
  const RunFolder old_run = plant::Plant::folder("old\n"), new_run = plant::Plant::folder("new\n");
  const std::string old_hash = write_run("run", old_run, false, empty).value().tagmanifest_sha256;
  MemoryDisk scratch_disk;
  const std::string new_hash = write_run("run", new_run, false, scratch_disk).value().tagmanifest_sha256;
  const auto hash_of = [](Disk& disk) {
    Seen seen;
    (void)disk.look("run", seen);
    if (seen.kind == Kind::none) return std::string("none");
    const Result<Bag> bag = verify_bag("run", disk);
    return bag.ok() ? bag.value().tagmanifest_sha256 : to_text(bag.diagnostics());
  };
  const auto write_new_run = [&](Disk& disk) { return write_run("run", new_run, true, disk).ok(); };
  unsigned cuts = cut_everywhere(MemoryDisk(), write_new_run, [&](MemoryDisk& left) {
    CHECK((hash_of(left) == "none" || hash_of(left) == new_hash));
  });
  cuts += cut_everywhere(empty, write_new_run, [&](MemoryDisk& left) {
    CHECK((hash_of(left) == old_hash || hash_of(left) == new_hash));
  });
  const unsigned faults = fail_everywhere(empty, write_new_run, [&](MemoryDisk& left, bool done) {
    CHECK(hash_of(left) == (done ? new_hash : old_hash));
  });
  MESSAGE("write_run: power cuts ", cuts, ", errors ", faults);
  CHECK(cuts + faults >= 300);
}

TEST_CASE("sign_run: the run is signed as before or as after") {
  const World w;
  std::map<std::string, std::string> made;  // ssh-keygen is asked once per text
  const Signer signer = [&](std::string_view text) -> Result<std::string> {
    std::string& signature = made[std::string(text)];
    if (signature.empty()) signature = ssh_keygen_sign(text, w.p.key("process engineer")).value();
    return signature;
  };
  const auto sign = [&](Disk& disk) {
    return sign_run({"three", "process engineer", "", Disposition::accept, "fine", "R. Calder",
                     plant::at("2031-03-04T09:00:00Z")},
                    w.trust, disk, signer)
        .ok();
  };
  const auto signatures = [&](Disk& disk) {
    const Result<RunCheck> check = verify_run("three", w.trust, disk);
    for (const Diagnostic& d : check.diagnostics()) {
      if (d.severity == Severity::error && d.rule != "role-unsigned") return d.rule;
    }
    return std::to_string(check.value().signatures.size());
  };
  const unsigned cuts = cut_everywhere(w.disk, sign, [&](MemoryDisk& left) {
    const std::string state = signatures(left);
    REQUIRE_MESSAGE((state == "0" || state == "1"), state);
    if (state == "0") CHECK(sign(left));
    CHECK(signatures(left) == "1");
  });
  const unsigned faults = fail_everywhere(w.disk, sign, [&](MemoryDisk& left, bool done) {
    const std::string state = signatures(left);
    CHECK((state == "0" || state == "1"));
    if (done) CHECK(state == "1");
  });
  MESSAGE("sign_run: power cuts ", cuts, ", errors ", faults);
  CHECK(cuts + faults >= 200);
}
