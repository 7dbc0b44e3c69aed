#include "record/signature.hpp"

#include <doctest/doctest.h>
#include <openssl/evp.h>

#include "record/digest.hpp"
#include "record/wire.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;

namespace {

std::string unhex(const std::string& hex) {
  std::string out;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    out += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  return out;
}

struct Vector {
  const char* key;
  const char* message;
  const char* signature;
};

// RFC 8032 section 7.1, tests 1 to 3.
const Vector vectors[] = {{"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
                           "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc"
                           "61e39701cf9b46bd25bf5f0595bbe"
                           "24655141438e7a100b"},
                          {"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
                           "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e4"
                           "58f3613d0f11d8c387b2eaeb4302a"
                           "eeb00d291612bb0c00"},
                          {"fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
                           "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290a"
                           "e67f760984dc6594a7c15e9716ed2"
                           "8dc027beceea1ec40a"}};

// The order of the base point, little-endian.
const char* const order = "edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010";

std::string plus(std::string a, const std::string& b) {
  unsigned carry = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    carry += static_cast<unsigned>(static_cast<unsigned char>(a[i])) + static_cast<unsigned char>(b[i]);
    a[i] = static_cast<char>(carry & 255U);
    carry >>= 8U;
  }
  return a;
}

bool libcrypto_accepts(const std::string& key, const std::string& signature, const std::string& message) {
  const auto octets = [](const std::string& s) { return reinterpret_cast<const unsigned char*>(s.data()); };
  EVP_PKEY* pkey = EVP_PKEY_new_raw_public_key(EVP_PKEY_ED25519, nullptr, octets(key), key.size());
  EVP_MD_CTX* context = EVP_MD_CTX_new();
  const bool good =
      EVP_DigestVerifyInit(context, nullptr, nullptr, nullptr, pkey) == 1 &&
      EVP_DigestVerify(context, octets(signature), signature.size(), octets(message), message.size()) == 1;
  EVP_MD_CTX_free(context);
  EVP_PKEY_free(pkey);
  return good;
}

// The signature file and key of the OpenSSH portable sources, regress/unittests/sshsig/testdata
// (ed25519.sig, ed25519.pub): namespace "unittest", SHA-512.
const char* const openssh_signature =
    "-----BEGIN SSH SIGNATURE-----\n"
    "U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgiWLNIg3cNBXvxU82NW+/COB/4/\n"
    "keps9gJi7cE4x2MAQAAAAIdW5pdHRlc3QAAAAAAAAABnNoYTUxMgAAAFMAAAALc3NoLWVk\n"
    "MjU1MTkAAABAihQsbUzuNEFflk5Tw1+H9aLS7tZQk0RG8KW1DtOmDYYnWe3D3UKiG3fcJa\n"
    "DNg4vBWp1j1gLRiBMOF+gwYNegDg==\n"
    "-----END SSH SIGNATURE-----\n";
const char* const openssh_message = "This is a test, this is only a test";
const char* const openssh_key = "AAAAC3NzaC1lZDI1NTE5AAAAIIlizSIN3DQV78VPNjVvvwjgf+P5HqbPYCYu3BOMdjAE";

std::string armoured(const std::string& blob) {
  return "-----BEGIN SSH SIGNATURE-----\n" + to_base64(blob) + "\n-----END SSH SIGNATURE-----\n";
}

std::string number(std::uint32_t n) {
  return {static_cast<char>(n >> 24U), static_cast<char>(n >> 16U & 255U), static_cast<char>(n >> 8U & 255U),
          static_cast<char>(n & 255U)};
}

// A signature blob with every field to choose; the defaults are well formed.
struct Blob {
  std::string magic = "SSHSIG";
  std::uint32_t version = 1;
  std::string key = wire_text("ssh-ed25519") + wire_text(std::string(32, 'k'));
  std::string name_space = "run-statement@vacuary";
  std::string reserved;
  std::string hash = "sha512";
  std::string signature = wire_text("ssh-ed25519") + wire_text(std::string(64, '\1'));
  std::string trailing;
  [[nodiscard]] std::string text() const {
    return armoured(magic + number(version) + wire_text(key) + wire_text(name_space) + wire_text(reserved) +
                    wire_text(hash) + wire_text(signature) + trailing);
  }
};

bool parses(const std::string& text) { return parse_signature("f.sig", text).ok(); }

}  // namespace

TEST_CASE("Ed25519: the vectors of RFC 8032, and no flipped bit passes") {
  for (const Vector& v : vectors) {
    const std::string key = unhex(v.key), message = unhex(v.message), signature = unhex(v.signature);
    CHECK(check_ed25519(key, signature, message) == SignatureCheck::good);
    for (std::size_t bit = 0; bit < 512; ++bit) {
      std::string changed = signature;
      changed[bit / 8] = static_cast<char>(changed[bit / 8] ^ (1 << bit % 8));
      CHECK(check_ed25519(key, changed, message) != SignatureCheck::good);
    }
    CHECK(check_ed25519(key, signature, message + "x") == SignatureCheck::bad);
    CHECK(check_ed25519(key.substr(1), signature, message) == SignatureCheck::bad);
    CHECK(check_ed25519(key, signature + "x", message) == SignatureCheck::bad);
  }
}

TEST_CASE("Ed25519: a signature moved by the group order is called altered") {
  const std::string signature = unhex(vectors[0].signature);
  const std::string moved = signature.substr(0, 32) + plus(signature.substr(32), unhex(order));
  CHECK(check_ed25519(unhex(vectors[0].key), moved, "") == SignatureCheck::malleable);
}

TEST_CASE("Ed25519: keys of small order let anybody sign, and are refused") {
  const std::vector<std::string> ys = {"0000000000000000000000000000000000000000000000000000000000000000",
                                       "0100000000000000000000000000000000000000000000000000000000000000",
                                       "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
                                       "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
                                       "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"};
  std::vector<std::string> points;
  for (const std::string& y : ys) {
    points.push_back(unhex(y));
    points.push_back(unhex(y));
    points.back().back() = static_cast<char>(points.back().back() | 0x80);  // the other x
  }
  for (const std::string& key : points) {
    // Nobody knows a secret here: the forger tries points for R with S = 0 until one fits.
    bool forged = false;
    for (unsigned attempt = 0; attempt < 64 && !forged; ++attempt) {
      const std::string message = "I accept everything " + std::to_string(attempt);
      for (const std::string& r : points)
        forged = forged || libcrypto_accepts(key, r + std::string(32, '\0'), message);
    }
    const bool decodes = (key != points[3] && key != points[5]);  // x = 0 has no other sign
    CHECK((forged || !decodes));
    CHECK(check_ed25519(key, std::string(64, '\0'), "x") == SignatureCheck::weak_key);
  }
  // y = p + 1 is a second way to write y = 1.
  CHECK(check_ed25519(unhex("eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"),
                      std::string(64, '\0'), "") == SignatureCheck::weak_key);
}

TEST_CASE("the published OpenSSH signature verifies, and only over its message") {
  const Result<SshSignature> s = parse_signature("ed25519.sig", openssh_signature);
  REQUIRE(s.ok());
  CHECK(s.value().name_space == "unittest");
  CHECK(to_base64(s.value().key.blob) == openssh_key);
  CHECK(check_signature(s.value(), openssh_message) == SignatureCheck::good);
  CHECK(check_signature(s.value(), std::string(openssh_message) + "\n") == SignatureCheck::bad);
  SshSignature other = s.value();
  other.name_space = signature_namespace;
  CHECK(check_signature(other, openssh_message) == SignatureCheck::bad);
}

TEST_CASE("a signature file has one form: cut, prolonged or rearranged ones are refused") {
  CHECK(parses(Blob{}.text()));
  CHECK(parses(openssh_signature));
  const std::string whole = Blob{}.text();
  for (std::size_t i = 0; i < whole.size(); ++i) CHECK_FALSE(parses(whole.substr(0, i)));
  CHECK_FALSE(parses(whole + "\n"));
  CHECK_FALSE(parses(" " + whole));
  CHECK_FALSE(parses("x\n" + whole));
  const auto with = [](auto change) {
    Blob blob;
    change(blob);
    return parses(blob.text());
  };
  CHECK_FALSE(with([](Blob& b) { b.magic = "SSHSIX"; }));
  CHECK_FALSE(with([](Blob& b) { b.version = 2; }));
  CHECK_FALSE(with([](Blob& b) { b.reserved = "x"; }));
  CHECK_FALSE(with([](Blob& b) { b.hash = "sha1"; }));
  CHECK_FALSE(with([](Blob& b) { b.trailing = "x"; }));
  CHECK_FALSE(with([](Blob& b) { b.key += "x"; }));
  CHECK_FALSE(with([](Blob& b) { b.signature += "x"; }));
  CHECK_FALSE(with([](Blob& b) { b.signature = wire_text("ssh-rsa") + wire_text(std::string(64, 's')); }));
  CHECK_FALSE(with([](Blob& b) { b.key = wire_text("ssh-ed25519") + wire_text(std::string(31, 'k')); }));
  CHECK_FALSE(
      with([](Blob& b) { b.signature = wire_text("ssh-ed25519") + wire_text(std::string(65, 's')); }));
  CHECK_FALSE(with([](Blob& b) { b.key = number(0xFFFFFFFFU) + "x"; }));
}

TEST_CASE("base64 has one text per bytes") {
  for (std::size_t n = 0; n < 20; ++n) {
    const std::string bytes(n, '\xA7');
    CHECK(from_base64(to_base64(bytes)) == bytes);
  }
  CHECK(to_base64("foob") == "Zm9vYg==");  // RFC 4648 section 10
  CHECK(from_base64("Zm9vYmFy") == "foobar");
  for (const char* bad :
       {"Zm9vYh==", "Zm9vYg=", "Zm9vYg", "Zm9v Yg=", "Z===", "====", "Zm=vYg==", "Zm9vYg==Zm9v"}) {
    CHECK_FALSE(from_base64(bad).has_value());
  }
}

TEST_CASE("allowed signers are read as ssh-keygen reads them") {
  const std::string key = std::string("ssh-ed25519 ") + openssh_key;
  const std::string text =
      "# a comment\n\noperator,quality " + key + " I. Novak\n" +
      "\"process-engineer\" namespaces=\"git,run-*\",valid-after=\"20300101Z\",valid-before="
      "\"20310101120000Z\" " +
      key + "\n";
  const Result<std::vector<AllowedSigner>> signers = parse_allowed_signers("signers", text);
  CHECK(to_text(signers.diagnostics()) == "");
  REQUIRE(signers.value().size() == 2);
  CHECK(signers.value()[0].comment == "I. Novak");
  CHECK(signers.value()[1].principals == "process-engineer");
  CHECK(to_rfc3339(*signers.value()[1].valid_before) == "2031-01-01T12:00:00Z");
  const PublicKey& k = signers.value()[0].key;
  const auto at = [&](const std::string& who, const char* when) {
    Instant instant;
    REQUIRE(from_rfc3339(when, instant));
    return permission(signers.value(), k, who, instant).allowed;
  };
  CHECK(at("operator", "2000-01-01T00:00:00Z") == Allowed::yes);
  CHECK(at("process-engineer", "2030-06-01T00:00:00Z") == Allowed::yes);
  CHECK(at("process-engineer", "2031-01-01T12:00:00Z") == Allowed::yes);
  CHECK(at("process-engineer", "2031-01-01T12:00:01Z") == Allowed::expired);
  CHECK(at("process-engineer", "2029-12-31T23:59:59Z") == Allowed::not_yet_valid);
  CHECK(at("director", "2030-06-01T00:00:00Z") == Allowed::other_role);
  CHECK(permission(signers.value(), PublicKey{"ssh-ed25519", "x"}, "operator", {}).allowed ==
        Allowed::unknown_key);
  CHECK(match_patterns("operator", "*,!operator") == -1);
  CHECK(match_patterns("operator", "op?rat*") == 1);
  CHECK(match_patterns("operator", "op?rat") == 0);
  for (const char* bad :
       {"operator", "operator ssh-ed25519", "operator ssh-ed25519 AAAA", "operator ssh-rsa ",
        "operator valid-after=\"soon\" ssh-ed25519 ", "operator shiny ssh-ed25519 "}) {
    CHECK_FALSE(parse_allowed_signers("signers", std::string(bad) + openssh_key + "\n").ok());
  }
  CHECK_FALSE(
      parse_allowed_signers("signers", "operator valid-after=\"20320101Z\",valid-before=\"20310101Z\" " + key)
          .ok());
  CHECK(parse_allowed_signers("signers", "operator valid-after=\"20320101\" " + key).diagnostics().size() ==
        1);
}
