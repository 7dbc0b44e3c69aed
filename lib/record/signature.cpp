#include "record/signature.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <memory>

#include "record/digest.hpp"
#include "record/lines.hpp"
#include "record/wire.hpp"

namespace vacuary::record {
namespace {

constexpr std::string_view armour_begin = "-----BEGIN SSH SIGNATURE-----\n";
constexpr std::string_view armour_end = "-----END SSH SIGNATURE-----\n";
constexpr std::size_t longest_signature = 65536;

Diagnostic malformed(const std::string& file, std::string message) {
  return file_fault(file, "signature-form", std::move(message), "have the statement signed again");
}

// The base64 between the armour lines, or nothing.
std::optional<std::string> dearmoured(std::string_view bytes) {
  if (bytes.size() > longest_signature || bytes.substr(0, armour_begin.size()) != armour_begin)
    return std::nullopt;
  bytes.remove_prefix(armour_begin.size());
  if (bytes.size() < armour_end.size() || bytes.substr(bytes.size() - armour_end.size()) != armour_end)
    return std::nullopt;
  bytes.remove_suffix(armour_end.size());
  if (bytes.empty() || bytes.back() != '\n') return std::nullopt;
  std::string text;
  for (const Line& line : split_lines(bytes)) {
    if (line.text.empty()) return std::nullopt;
    text += line.text;
  }
  if (bytes.find('\r') != std::string_view::npos) return std::nullopt;
  return from_base64(text);
}

// 0 <= a < b for little-endian numbers of 32 bytes.
bool less(std::string_view a, const std::array<unsigned char, 32>& b) {
  for (std::size_t i = 32; i-- > 0;) {
    const auto byte = static_cast<unsigned char>(a[i]);
    if (byte != b.at(i)) return byte < b.at(i);
  }
  return false;
}

// The order L of the base point, 2^252 + 27742317777372353535851937790883648493 (RFC 8032 section 5.1).
constexpr std::array<unsigned char, 32> group_order = {
    0xED, 0xD3, 0xF5, 0x5C, 0x1A, 0x63, 0x12, 0x58, 0xD6, 0x9C, 0xF7, 0xA2, 0xDE, 0xF9, 0xDE, 0x14,
    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0x10};
// The field's prime, 2^255 - 19.
constexpr std::array<unsigned char, 32> field_prime = {
    0xED, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF,
    0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F};

// y of the points whose order divides 8 (0, 1, -1 and the two of order 8): with such a key, anybody can
// make signatures that verify, as a test does for each.
constexpr std::array<std::string_view, 5> small_order_y = {
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0100000000000000000000000000000000000000000000000000000000000000",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"};

bool is_weak(std::string_view key) {
  std::string y(key);
  y.back() = static_cast<char>(y.back() & 0x7F);
  return !less(y, field_prime) ||
         std::find(small_order_y.begin(), small_order_y.end(), to_hex(y)) != small_order_y.end();
}

const unsigned char* octets(std::string_view bytes) {
  return reinterpret_cast<const unsigned char*>(bytes.data());
}

}  // namespace

std::string fingerprint(const PublicKey& key) {
  Hasher hasher(Algorithm::sha256);
  hasher.add(key.blob);
  std::string text = to_base64(hasher.bytes());
  while (!text.empty() && text.back() == '=') text.pop_back();
  return "SHA256:" + text;
}

Result<SshSignature> parse_signature(const std::string& file, std::string_view bytes) {
  const std::optional<std::string> blob = dearmoured(bytes);
  if (!blob) return malformed(file, "this is not an armoured SSH signature and nothing else");
  Wire wire(*blob);
  if (wire.take(6) != "SSHSIG" || wire.number() != 1)
    return malformed(file, "this is not a version 1 SSH signature");
  SshSignature s;
  s.key.blob = wire.text();
  s.name_space = wire.text();
  const std::string_view reserved = wire.text();
  s.hash = wire.text();
  const std::string_view inner = wire.text();
  if (!wire.done())
    return malformed(file, "a field of the signature is missing, or something follows its last field");
  if (!reserved.empty()) return malformed(file, "the reserved field of the signature is not empty");
  if (s.hash != "sha256" && s.hash != "sha512")
    return malformed(file, "the signature's hash is neither sha256 nor sha512");
  Wire key(s.key.blob);
  s.key.type = key.text();
  Wire signature(inner);
  s.type = signature.text();
  s.signature = signature.text();
  if (!key.good() || !signature.good())
    return malformed(file, "the key or the signature inside is cut short");
  if (s.key.type == "ssh-ed25519") {
    if (key.text().size() != 32 || !key.done())
      return malformed(file, "the Ed25519 key inside is not 32 bytes");
    if (s.type != s.key.type || s.signature.size() != 64 || !signature.done()) {
      return malformed(file, "the Ed25519 signature inside is not 64 bytes of that type");
    }
  }
  return s;
}

SignatureCheck check_ed25519(std::string_view key, std::string_view signature, std::string_view message) {
  if (key.size() != 32 || signature.size() != 64) return SignatureCheck::bad;
  if (is_weak(key)) return SignatureCheck::weak_key;
  if (!less(signature.substr(32), group_order)) return SignatureCheck::malleable;
  const std::unique_ptr<EVP_PKEY, decltype(&EVP_PKEY_free)> public_key(
      EVP_PKEY_new_raw_public_key(EVP_PKEY_ED25519, nullptr, octets(key), key.size()), &EVP_PKEY_free);
  const std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
  if (!public_key || !context) return SignatureCheck::bad;
  if (EVP_DigestVerifyInit(context.get(), nullptr, nullptr, nullptr, public_key.get()) != 1)
    return SignatureCheck::bad;
  const int verified =
      EVP_DigestVerify(context.get(), octets(signature), signature.size(), octets(message), message.size());
  return verified == 1 ? SignatureCheck::good : SignatureCheck::bad;
}

SignatureCheck check_signature(const SshSignature& s, std::string_view message) {
  if (s.key.type != "ssh-ed25519") return SignatureCheck::other_type;
  Hasher hasher(s.hash == "sha256" ? Algorithm::sha256 : Algorithm::sha512);
  hasher.add(message);
  // What is signed: PROTOCOL.sshsig, section 3.
  const std::string signed_bytes =
      "SSHSIG" + wire_text(s.name_space) + wire_text("") + wire_text(s.hash) + wire_text(hasher.bytes());
  Wire key(s.key.blob);
  (void)key.text();
  return check_ed25519(key.text(), s.signature, signed_bytes);
}

}  // namespace vacuary::record
