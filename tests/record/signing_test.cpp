#include "record/signing.hpp"

#include <doctest/doctest.h>

#include "plant.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
using plant::rules;

TEST_CASE("three roles sign in order, and the run verifies") {
  const plant::Plant p;
  CHECK(rules(verify_run(p.run(), p.trust())) == "role-unsigned role-unsigned role-unsigned");
  REQUIRE(p.sign_all());
  const Result<RunCheck> check = verify_run(p.run(), p.trust());
  CHECK(rules(check) == "time-only-claimed time-only-claimed time-only-claimed");
  REQUIRE(check.ok());
  REQUIRE(check.value().signatures.size() == 3);
  CHECK(check.value().signatures[1].holder == "key of operator");
  CHECK(check.value().signatures[1].good);
  CHECK_FALSE(check.value().signatures[1].by_ssh_keygen);
  CHECK(check.value().signatures[2].statement.reason == "film within limits");
}

TEST_CASE("a stranger verifies with the commands of the documentation, years after the keys expired") {
  const plant::Plant p;
  REQUIRE(p.sign_all());
  const std::string readme = scratch::get(std::string(VACUARY_SOURCE_DIR) + "/lib/record/README.md");
  const std::size_t start = readme.find("<!-- a test runs this -->\n```sh\n");
  REQUIRE(start != std::string::npos);
  const std::size_t from = readme.find("sh\n", start) + 3;
  const std::string commands = readme.substr(from, readme.find("```", from) - from);
  const std::string setting = "set -e\nexport TZ=UTC\ncd " + p.run() + "\nSIGNERS=" + p.signers() + "\n";
  const scratch::Ran good = scratch::run(setting + commands);
  CHECK_MESSAGE(good.exit == 0, good.output);
  CHECK(good.output.find("Good \"run-statement@vacuary\" signature for quality") != std::string::npos);
  // The keys of the plant ended in 2031: without a verify time ssh-keygen refuses them today.
  const scratch::Ran today =
      scratch::run(setting +
                   "ssh-keygen -Y verify -f $SIGNERS -I operator -n run-statement@vacuary -s "
                   "signatures/2-operator.txt.sig < signatures/2-operator.txt");
  CHECK_MESSAGE(today.exit != 0, today.output);
  // And the commands notice a change.
  scratch::put(p.run() + "/data/log/log.csv", "time,p\n0,2\n");
  CHECK(scratch::run(setting + commands).exit != 0);
}

TEST_CASE("signing is refused out of turn, twice, without a reason, for a role nobody asked for") {
  const plant::Plant p;
  CHECK(rules(p.sign("operator")) == "role-out-of-order");
  CHECK(rules(p.sign("director")) == "role-not-asked");
  CHECK(rules(p.sign("process engineer", "process engineer", Disposition::reject, "")) == "statement-form");
  CHECK(rules(p.sign("process engineer", "process engineer", Disposition::accept, "two\nlines")) ==
        "statement-form");
  CHECK_FALSE(std::filesystem::exists(p.run() + "/signatures"));
  CHECK(p.sign("process engineer").ok());
  CHECK(rules(p.sign("process engineer")) == "role-signed-twice");
  CHECK(rules(p.sign("operator", "process engineer")) == "key-in-two-roles");
  CHECK(rules(p.sign("operator", "quality")) == "key-not-allowed");
  CHECK(p.sign("operator").ok());
}

TEST_CASE("nobody signs a run that was changed") {
  const plant::Plant p;
  scratch::put(p.run() + "/data/log/log.csv", "time,p\n0,2\n");
  CHECK(rules(p.sign("process engineer")) == "payload-changed");
}

TEST_CASE("each tampering with signatures has its name") {
  const plant::Plant p;
  REQUIRE(p.sign_all());
  const std::string s = p.run() + "/signatures/";
  const auto after = [&](auto damage) {
    const scratch::Folder keep;
    std::filesystem::copy(s, keep.path("s"), std::filesystem::copy_options::recursive);
    damage();
    std::string said;
    const Result<RunCheck> check = verify_run(p.run(), p.trust());
    for (const Diagnostic& d : check.diagnostics()) {
      if (d.severity == Severity::error) said += (said.empty() ? "" : " ") + d.rule;
    }
    std::filesystem::remove_all(s);
    std::filesystem::copy(keep.path("s"), s, std::filesystem::copy_options::recursive);
    return said;
  };
  using scratch::get;
  using scratch::put;
  const auto edit = [&](const std::string& file, const std::string& from, const std::string& to) {
    std::string text = get(s + file);
    text.replace(text.find(from), from.size(), to);
    put(s + file, text);
  };
  CHECK(after([] {}) == "");
  CHECK(after([&] { edit("3-quality.txt", "accept", "reject"); }) == "signature-bad");
  CHECK(after([&] { edit("2-operator.txt", "accept", "rework"); }) == "signature-bad statement-chain");
  CHECK(after([&] { edit("2-operator.txt", "accept", "Accept"); }) ==
        "statement-form statement-chain role-unsigned");
  CHECK(after([&] { edit("2-operator.txt", "# time", "#  time"); }) ==
        "statement-form statement-chain role-unsigned");
  CHECK(after([&] { std::filesystem::remove(s + "3-quality.txt.sig"); }) == "signature-missing");
  CHECK(after([&] {
          std::filesystem::remove(s + "3-quality.txt");
          std::filesystem::remove(s + "3-quality.txt.sig");
        }) == "role-unsigned");
  CHECK(after([&] {
          std::filesystem::remove(s + "2-operator.txt");
          std::filesystem::remove(s + "2-operator.txt.sig");
        }) == "statement-missing statement-chain role-unsigned");
  CHECK(after([&] { put(s + "2-operator.txt.sig", get(s + "3-quality.txt.sig")); }) ==
        "signature-bad key-in-two-roles");
  CHECK(after([&] { put(s + "notes.txt", "x"); }) == "stray-signature-file");
  CHECK(after([&] { put(s + "4-director.txt", get(s + "3-quality.txt")); }) ==
        "statement-chain statement-chain signature-missing role-signed-twice");
  CHECK(after([&] { put(s + "2-operator.txt.sig", "junk"); }) == "signature-form");
  CHECK(after([&] {
          const scratch::Ran other =
              scratch::run("rm " + s + "3-quality.txt.sig && ssh-keygen -q -Y sign -n file -f " +
                           p.key("quality") + " " + s + "3-quality.txt");
          REQUIRE(other.exit == 0);
        }) == "wrong-namespace");
}

TEST_CASE("signatures of another run do not fit this one") {
  const plant::Plant a;
  REQUIRE(a.sign_all());
  const plant::Plant b("0,7\n");
  std::filesystem::copy(a.run() + "/signatures", b.run() + "/signatures");
  const std::string said = rules(verify_run(b.run(), a.trust()));
  CHECK(said.find("statement-of-other-run") != std::string::npos);
}

TEST_CASE("keys count only for their role, their time and their plant") {
  const plant::Plant p;
  REQUIRE(p.sign_all());
  const std::string signers = scratch::get(p.signers());
  const auto with = [&](std::string text) {
    Trust trust{"signers", std::move(text), ""};
    std::string said;
    const Result<RunCheck> check = verify_run(p.run(), trust);
    for (const Diagnostic& d : check.diagnostics()) {
      if (d.severity == Severity::error) said += d.rule + " ";
    }
    return said;
  };
  const auto replaced = [&](const std::string& from, const std::string& to) {
    std::string text = signers;
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
      text.replace(at, from.size(), to);
    return text;
  };
  CHECK(with(signers) == "");
  CHECK(with(replaced("20310401Z", "20310303Z")) == "key-expired key-expired key-expired ");
  CHECK(with(replaced("20310101Z", "20310305Z")) == "key-not-yet-valid key-not-yet-valid key-not-yet-valid ");
  CHECK(with(replaced("operator ", "janitor ")) == "key-not-allowed ");
  CHECK(with(replaced("run-statement@vacuary", "git")) == "key-not-allowed key-not-allowed key-not-allowed ");
  CHECK(with("") == "key-not-allowed key-not-allowed key-not-allowed ");
  CHECK(rules(verify_run(p.run(), Trust{})).find("signers-unknown") != std::string::npos);
}

TEST_CASE("a key of another type is verified by ssh-keygen, and the report says so") {
  const plant::Plant p;
  REQUIRE(scratch::run("ssh-keygen -q -t ecdsa -N '' -C 'other type' -f " + p.key("ecdsa")).exit == 0);
  scratch::put(p.signers(),
               scratch::get(p.signers()) + "process-engineer " + scratch::get(p.key("ecdsa") + ".pub"));
  REQUIRE(p.sign("process engineer", "ecdsa").ok());
  const Result<RunCheck> check = verify_run(p.run(), p.trust());
  REQUIRE(check.value().signatures.size() == 1);
  CHECK(check.value().signatures[0].good);
  CHECK(check.value().signatures[0].by_ssh_keygen);
  CHECK(check.value().signatures[0].holder == "other type");
  scratch::put(p.signers(), "operator " + scratch::get(p.key("ecdsa") + ".pub"));
  CHECK(rules(verify_run(p.run(), p.trust())).find("signature-bad") != std::string::npos);
}

TEST_CASE("a new revision names the one before and starts unsigned") {
  const plant::Plant p;
  REQUIRE(p.sign_all());
  const std::string next = p.run() + "-r2";
  const Result<WrittenRun> revised = revise_run(
      p.run(), next, {{"data/measured/strip.toml", Bytes{"x = 1\n"}, ""}}, {{"Bagging-Date", "2031-03-09"}});
  REQUIRE_MESSAGE(revised.ok(), to_text(revised.diagnostics()));
  const Result<Bag> bag = verify_bag(next);
  REQUIRE(bag.ok());
  CHECK(bag.value().about("Revision") == "2");
  CHECK(bag.value().about("Replaces") == verify_bag(p.run()).value().tagmanifest_sha256);
  CHECK(bag.value().all_about("Signing-Role").size() == 3);
  CHECK(bag.value().about("Original-Name") == "data/log/log.csv Log of the run.csv");
  CHECK(rules(verify_run(next, p.trust())) == "role-unsigned role-unsigned role-unsigned");
  CHECK(scratch::get(next + "/data/log/log.csv") == scratch::get(p.run() + "/data/log/log.csv"));
}

TEST_CASE("statement texts come back the same, and damaged ones do not pass") {
  Statement s{"process engineer",
              Disposition::rework,
              "thin sector at 40 deg",
              "R. Calder",
              {},
              std::string(64, 'a'),
              {{std::string(64, 'b'), "signatures/1-operator.txt"}}};
  REQUIRE(from_rfc3339("2031-03-04T05:06:07Z", s.time));
  const std::string text = to_text(s);
  const Result<Statement> back = parse_statement("s", text);
  REQUIRE_MESSAGE(back.ok(), to_text(back.diagnostics()));
  CHECK(to_text(back.value()) == text);
  for (std::size_t i = 0; i < text.size(); ++i) {
    const Result<Statement> cut = parse_statement("s", text.substr(0, i));
    CHECK((!cut.ok() || to_text(cut.value()) == text.substr(0, i)));
    std::string changed = text;
    changed[i] = static_cast<char>(changed[i] ^ 0x20);
    const Result<Statement> flipped = parse_statement("s", changed);
    CHECK((!flipped.ok() || to_text(flipped.value()) == changed));
  }
  CHECK(role_id("process engineer") == "process-engineer");
  for (const char* bad : {"", " x", "x ", "Operator", "a  b", "../x", "-x", "x-"}) CHECK(role_id(bad) == "");
}
