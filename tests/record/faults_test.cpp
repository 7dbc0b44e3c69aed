// Faults from outside a running program: errors and kills at its system calls (strace), a full disk, a
// folder that may not be written, another user. What a power cut does is power_cut_test.cpp: after a kill
// the page cache is still there.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <map>
#include <sstream>

#include "plant.hpp"
#include "record/archive.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;

namespace {

const std::string driver = VACUARY_ARCHIVE_DRIVER;

// An archive of one run and a second one to add, for a program that is disturbed.
struct Stage {
  Stage() {
    REQUIRE(create_archive(p.path("archive")).ok());
    for (const char* name : {"one", "two"}) {
      REQUIRE(write_run(p.path(name), plant::Plant::folder(std::string(name) + ",1\n", name), false).ok());
      REQUIRE(p.sign_all(p.path(name)));
    }
    REQUIRE(add("", "one") == 0);
    fs::copy(p.path("archive"), p.path("fresh"), fs::copy_options::recursive);
  }
  [[nodiscard]] int add(const std::string& before, const std::string& run) const {
    return scratch::run(
               fmt::format("{} {} add {} {} {}", before, driver, p.path("archive"), p.path(run), p.signers()))
        .exit;
  }
  [[nodiscard]] std::string state() const {
    const scratch::Ran ran =
        scratch::run(fmt::format("{} verify {} {}", driver, p.path("archive"), p.signers()));
    return ran.exit == 0 ? ran.output.substr(0, ran.output.find('\n')) : ran.output;
  }
  void restore() const {
    fs::remove_all(p.path("archive"));
    fs::copy(p.path("fresh"), p.path("archive"), fs::copy_options::recursive);
  }
  // Before or after, and the next add works.
  void check_whole(const std::string& how) const {
    const std::string found = state();
    REQUIRE_MESSAGE((found == "1" || found == "2"), how, ": ", found);
    if (found == "2") CHECK_MESSAGE(add("", "one") == 0, how);
    if (found == "1") CHECK_MESSAGE(add("", "two") == 0, how);
    CHECK_MESSAGE(state() == (found == "1" ? "2" : "3"), how);
  }
  plant::Plant p;
};

// How often the undisturbed program makes each of these calls.
std::map<std::string, unsigned> count_calls(const Stage& stage, const std::string& calls) {
  const std::string trace = stage.p.path("trace");
  REQUIRE(stage.add("strace -f -qq -e trace=" + calls + " -o " + trace, "two") == 0);
  stage.restore();
  std::map<std::string, unsigned> count;
  std::istringstream lines(scratch::get(trace));
  for (std::string line; std::getline(lines, line);) {
    const std::size_t start = std::min(line.find_first_not_of("0123456789 "), line.size());
    const std::size_t end = line.find('(', start);
    if (end != std::string::npos) ++count[line.substr(start, end - start)];
  }
  return count;
}

}  // namespace

TEST_CASE("archive add: errors and kills at its system calls") {
  if (scratch::run("strace -qq -e trace=none true").exit != 0) {
    MESSAGE("skipped: strace is not there or may not trace");
    return;
  }
  const Stage stage;
  const std::string calls =
      "openat,write,fsync,close,renameat2,rename,mkdir,read,flock,getdents64,newfstatat,unlink,rmdir";
  // All of them take minutes; the usual test takes every n-th.
  const unsigned step = std::getenv("VACUARY_LONG_TESTS") != nullptr ? 1 : 23;
  unsigned faults = 0, place = 0;
  for (const auto& [call, count] : count_calls(stage, calls)) {
    for (unsigned when = 1; when <= count; ++when) {
      for (const char* fault : {"error=EIO", "error=ENOSPC", "signal=SIGKILL"}) {
        if (++place % step != 0) continue;
        const std::string how = fmt::format("{}:{}:when={}", call, fault, when);
        (void)stage.add("strace -f -qq -o /dev/null -e trace=" + call + " -e inject=" + how, "two");
        stage.check_whole(how);
        stage.restore();
        ++faults;
      }
    }
  }
  MESSAGE("faults injected into system calls: ", faults, " of ", place);
  CHECK(place >= 1000);
  CHECK(faults >= place / step);
}

TEST_CASE("archive add: a full disk leaves the archive as it was") {
  const Stage stage;
  const std::string disk = stage.p.path("small-disk");
  fs::create_directory(disk);
  if (::geteuid() != 0 || scratch::run("mount -t tmpfs -o size=256k none " + disk).exit != 0) {
    MESSAGE("skipped: only an administrator can make a small disk");
    return;
  }
  fs::copy(stage.p.path("fresh"), disk + "/archive", fs::copy_options::recursive);
  const std::string verify = fmt::format("{} verify {}/archive {}", driver, disk, stage.p.signers());
  const std::string add =
      fmt::format("{} add {}/archive {} {}", driver, disk, stage.p.path("two"), stage.p.signers());
  unsigned refused = 0;
  // Less and less room, down to the last page.
  for (unsigned pages = 0; pages < 48; ++pages) {
    (void)scratch::run(fmt::format("head -c {} /dev/zero > {}/filler", 4096 * (48 - pages), disk));
    const bool done = scratch::run(add).exit == 0;
    const scratch::Ran state = scratch::run(verify);
    CHECK_MESSAGE(state.exit == 0, state.output);
    CHECK(state.output == (done ? "2\n" : "1\n"));
    refused += done ? 0U : 1U;
    if (done) break;
  }
  fs::remove(disk + "/filler");
  CHECK(refused > 0);
  CHECK(scratch::run(add).exit == 0);
  CHECK(scratch::run("umount " + disk).exit == 0);
}

TEST_CASE("archive add by somebody who may not write: refused, nothing changed") {
  const Stage stage;
  std::string as_other;
  if (::geteuid() == 0) {  // root passes every permission test
    as_other = "setpriv --reuid=65534 --regid=65534 --clear-groups";
    if (scratch::run(as_other + " " + driver).exit != 2) {
      MESSAGE("skipped: another user cannot run the test's program");
      return;
    }
    REQUIRE(scratch::run("chmod -R a+rX " + stage.p.path("")).exit == 0);
  } else {
    REQUIRE(scratch::run("chmod -R a-w " + stage.p.path("archive")).exit == 0);
  }
  CHECK(stage.add(as_other, "two") == 1);
  CHECK(stage.state() == "1");
  for (const char* part : {"ledger/00000", "bags/00000", "signers", "."}) {
    // Everything may be written but one folder.
    REQUIRE(scratch::run("chmod -R a+rwX " + stage.p.path("archive")).exit == 0);
    REQUIRE(scratch::run("chmod a-w " + stage.p.path("archive/") + part).exit == 0);
    const bool done = stage.add(as_other, "two") == 0;
    const std::string state = stage.state();
    CHECK_MESSAGE(state == (done ? "2" : "1"), part, ": ", state);
    REQUIRE(scratch::run("chmod -R u+rwX " + stage.p.path("archive")).exit == 0);
    stage.restore();
  }
}
