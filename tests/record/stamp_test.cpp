#include "record/stamp.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "plant.hpp"
#include "record/archive.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;

namespace {

// A time-stamping authority of the test's own, made with the openssl program.
class Authority {
 public:
  Authority() {
    scratch::put(folder_.path("ca.cnf"),
                 "[req]\ndistinguished_name=dn\nx509_extensions=ca\nprompt=no\n[dn]\nCN=Test root\n[ca]\n"
                 "basicConstraints=critical,CA:true\n[tsa]\nextendedKeyUsage=critical,timeStamping\n"
                 "[default_tsa]\nserial=" +
                     folder_.path("serial") + "\ncrypto_device=builtin\nsigner_cert=" +
                     folder_.path("tsa.pem") + "\nsigner_key=" + folder_.path("tsa.key") +
                     "\nsigner_digest=sha256\ndefault_policy=1.2.3.4\ndigests=sha1,sha256,sha512\n"
                     "ess_cert_id_alg=sha256\n[tsa_at]\ndefault_tsa=default_tsa\n");
    const scratch::Ran made = scratch::run(
        "cd " + folder_.path() +
        " && openssl req -x509 -newkey ed25519 -nodes -keyout ca.key -out ca.pem -days 30 -config ca.cnf"
        " && openssl req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -subj '/CN=Test stamps' "
        "-config ca.cnf"
        " && openssl x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 20 -extfile ca.cnf"
        " -extensions tsa -out tsa.pem && echo 01 > serial");
    REQUIRE_MESSAGE(made.exit == 0, made.output);
  }
  [[nodiscard]] std::string ca() const { return folder_.path("ca.pem"); }
  [[nodiscard]] std::string path(const std::string& name) const { return folder_.path(name); }
  [[nodiscard]] std::string answer(const std::string& request) const {
    scratch::put(folder_.path("q.tsq"), request);
    const scratch::Ran ran =
        scratch::run("cd " + folder_.path() +
                     " && openssl ts -reply -config ca.cnf -section default_tsa -queryfile q.tsq -out a.tsr");
    REQUIRE_MESSAGE(ran.exit == 0, ran.output);
    return scratch::get(folder_.path("a.tsr"));
  }

 private:
  scratch::Folder folder_;
};

}  // namespace

TEST_CASE("a stamp made by the openssl program verifies, here and there, and only over its bytes") {
  const Authority authority;
  const std::string bytes = "the signature file";
  const Result<std::string> request = stamp_request(bytes);
  REQUIRE(request.ok());
  const std::string answer = authority.answer(request.value());
  const Result<Instant> stamped = check_stamp("s.tsr", answer, bytes, authority.ca());
  REQUIRE_MESSAGE(stamped.ok(), to_text(stamped.diagnostics()));
  CHECK(stamped.value().ns > plant::at("2025-01-01T00:00:00Z").ns);
  scratch::put(authority.path("data"), bytes);
  const scratch::Ran outside =
      scratch::run("cd " + authority.path("") + " && openssl ts -verify -in a.tsr -data data -CAfile ca.pem");
  CHECK_MESSAGE(outside.exit == 0, outside.output);

  CHECK(plant::rules(check_stamp("s.tsr", answer, bytes + "x", authority.ca())) == "stamp-bad");
  CHECK(plant::rules(check_stamp("s.tsr", answer + "x", bytes, authority.ca())) == "stamp-form");
  CHECK(plant::rules(check_stamp("s.tsr", "junk", bytes, authority.ca())) == "stamp-form");
  CHECK(plant::rules(check_stamp("s.tsr", answer, bytes, authority.path("serial"))) == "stamp-bad");
  const Authority stranger;
  CHECK(plant::rules(check_stamp("s.tsr", answer, bytes, stranger.ca())) == "stamp-bad");
  unsigned passed = 0;
  for (std::size_t i = 0; i < answer.size(); i += 7) {
    std::string changed = answer;
    changed[i] = static_cast<char>(changed[i] ^ 1);
    const Result<Instant> result = check_stamp("s.tsr", changed, bytes, authority.ca());
    // Bytes outside what the authority signed (its status text) may change; the time may not.
    if (result.ok()) CHECK(result.value() == stamped.value());
    passed += result.ok() ? 1U : 0U;
  }
  CHECK(passed < answer.size() / 7 / 10);
}

TEST_CASE("a stamp of a year that cannot be held is refused") {
  const Authority authority;
  std::string answer = authority.answer(stamp_request("x").value());
  const auto is_time = [&](std::size_t i) {
    return answer[i + 14] == 'Z' && std::all_of(answer.begin() + static_cast<std::ptrdiff_t>(i),
                                                answer.begin() + static_cast<std::ptrdiff_t>(i) + 14,
                                                [](char ch) { return ch >= '0' && ch <= '9'; });
  };
  std::size_t at = 0;
  while (at + 15 < answer.size() && !is_time(at)) ++at;
  REQUIRE(is_time(at));
  answer.replace(at, 4, "9999");
  CHECK(plant::rules(check_stamp("s.tsr", answer, "x", authority.ca())) == "stamp-refused");
}

TEST_CASE("a stamp with SHA-1 is refused as weak") {
  const Authority authority;
  scratch::put(authority.path("data"), "x");
  REQUIRE(
      scratch::run("cd " + authority.path("") + " && openssl ts -query -data data -sha1 -cert -out weak.tsq")
          .exit == 0);
  const std::string answer = authority.answer(scratch::get(authority.path("weak.tsq")));
  CHECK(plant::rules(check_stamp("s.tsr", answer, "x", authority.ca())) == "stamp-weak");
}

TEST_CASE("a stamp over a ledger entry proves that it existed, and does not fit another") {
  const Authority authority;
  const plant::Plant p;
  REQUIRE(p.sign_all());
  const std::string archive = p.path("archive");
  REQUIRE(create_archive(archive).ok());
  for (unsigned i = 0; i < 2; ++i) REQUIRE(add_to_archive({archive, p.run(), p.trust(), {}}).ok());
  const std::string answer = authority.answer(request_entry_stamp(archive, 2).value());
  CHECK(plant::rules(add_entry_stamp(archive, 1, answer, authority.ca())) == "stamp-bad");
  REQUIRE(add_entry_stamp(archive, 2, answer, authority.ca()).ok());
  ArchiveCheckRequest request;
  request.archive = archive;
  request.trust = p.trust();
  request.trust.stamp_ca_file = authority.ca();
  CHECK(verify_archive(request).ok());
  scratch::put(archive + "/" + stamp_path(1), answer);
  CHECK(plant::rules(verify_archive(request)) == "stamp-bad");
}

TEST_CASE("a stamped signature shows when it existed; a claim after the stamp is noticed") {
  const Authority authority;
  const plant::Plant p;
  REQUIRE(p.sign("process engineer").ok());
  const Result<std::string> request = request_stamp(p.run(), 1);
  REQUIRE(request.ok());
  CHECK_FALSE(request_stamp(p.run(), 2).ok());
  CHECK(plant::rules(add_stamp(p.run(), 1, "junk", authority.ca())) == "stamp-form");
  REQUIRE(add_stamp(p.run(), 1, authority.answer(request.value()), authority.ca()).ok());
  // Without a trusted authority the time stays a claim.
  CHECK(plant::rules(verify_run(p.run(), p.trust())).find("time-only-claimed") != std::string::npos);
  Trust trust = p.trust();
  trust.stamp_ca_file = authority.ca();
  const Result<RunCheck> check = verify_run(p.run(), trust);
  REQUIRE(check.value().signatures.size() == 1);
  CHECK(check.value().signatures[0].basis == TimeBasis::stamped);
  // The plant's keys are valid in 2031 only, and the test's stamp is of today.
  const std::string said = plant::rules(check);
  const bool before_2031 = check.value().signatures[0].time < plant::at("2031-01-01T00:00:00Z");
  CHECK((said.find("key-not-yet-valid") != std::string::npos) == before_2031);
  CHECK((said.find("claimed-time-after-stamp") != std::string::npos) == before_2031);
}
