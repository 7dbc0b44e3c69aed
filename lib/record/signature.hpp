// OpenSSH signatures (PROTOCOL.sshsig of the OpenSSH sources) and the file that says whose keys count
// (ssh-keygen(1), ALLOWED SIGNERS).
//
// Ed25519 (RFC 8032) is verified here with libcrypto; every other key type is handed to `ssh-keygen
// -Y verify`. Parsing is stricter than OpenSSH's: one signature has one form, and nothing may stand
// before, after or between its parts.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"

namespace vacuary::record {

// A signature made for anything else (mail, a commit) never counts as one on a statement.
inline constexpr const char* signature_namespace = "run-statement@vacuary";

struct PublicKey {
  std::string type;  // "ssh-ed25519"
  std::string blob;  // as on the wire, type included
  friend bool operator==(const PublicKey&, const PublicKey&) = default;
};
[[nodiscard]] std::string fingerprint(const PublicKey& key);  // "SHA256:...", as ssh-keygen -l prints it

struct SshSignature {
  PublicKey key;
  std::string name_space;
  std::string hash;  // "sha256" or "sha512"
  std::string type;  // of the signature
  std::string signature;
};
// `bytes`: the armoured text of a .sig file.
[[nodiscard]] Result<SshSignature> parse_signature(const std::string& file, std::string_view bytes);

enum class SignatureCheck {
  good,
  bad,
  weak_key,   // a key for which anybody can make signatures, or written in a second way
  malleable,  // a second form of a good signature (RFC 8032 section 5.1.7: S is not below L)
  other_type  // not Ed25519: ask ssh-keygen
};
[[nodiscard]] SignatureCheck check_signature(const SshSignature& signature, std::string_view message);

// The bare algorithm: 32-byte key, 64-byte signature (RFC 8032 section 5.1).
[[nodiscard]] SignatureCheck check_ed25519(std::string_view key, std::string_view signature,
                                           std::string_view message);

// One line of an allowed-signers file.
struct AllowedSigner {
  std::string principals;  // comma-separated patterns with * and ?, ! negates
  std::optional<std::string> namespaces;
  std::optional<Instant> valid_after, valid_before;  // both included
  bool cert_authority = false;
  PublicKey key;
  std::string comment;  // here: whose key it is
  std::uint64_t line = 0;
};
// All good lines, and an error for each bad one. A validity time without Z is local to this computer,
// as in OpenSSH, and warned about.
[[nodiscard]] Result<std::vector<AllowedSigner>> parse_allowed_signers(const std::string& file,
                                                                       std::string_view bytes);

// +1: matches; 0: does not; -1: matches a negated pattern (OpenSSH's rules).
[[nodiscard]] int match_patterns(std::string_view text, std::string_view patterns);

enum class Allowed { yes, unknown_key, other_role, other_namespace, not_yet_valid, expired };
struct Permission {
  Allowed allowed = Allowed::unknown_key;
  std::string holder;            // comment of the line
  std::optional<Instant> bound;  // the validity time that was missed
};
// May this key sign as `principal` at `when`? The line that allows it counts, else the nearest miss.
[[nodiscard]] Permission permission(const std::vector<AllowedSigner>& signers, const PublicKey& key,
                                    const std::string& principal, Instant when);

// `ssh-keygen -Y verify` on the same bytes; empty when it agrees, else what it said.
[[nodiscard]] std::string ssh_keygen_verify(std::string_view message, std::string_view signature,
                                            std::string_view allowed_signers, const std::string& principal,
                                            Instant when);
// `ssh-keygen -Y sign` with the key file (or the .pub of a key in an agent); asks for a passphrase or
// a touch on the terminal itself. The armoured signature.
[[nodiscard]] Result<std::string> ssh_keygen_sign(std::string_view message, const std::string& key_file);

}  // namespace vacuary::record
