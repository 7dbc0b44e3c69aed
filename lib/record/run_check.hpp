// Is this run folder what was signed, by those who had to sign?
//
// What each check proves, and what it does not, stands in README.md of this folder.
#pragma once

#include <string>
#include <vector>

#include "base/result.hpp"
#include "record/bag.hpp"
#include "record/disk.hpp"
#include "record/signature.hpp"
#include "record/statement.hpp"

namespace vacuary::record {

// What the verifier trusts. It must not come from the run folder itself.
struct Trust {
  std::string signers_file;   // allowed signers; empty: nobody's key is known
  std::string signers_bytes;  // its content
  std::string stamp_ca_file;  // PEM; empty: no time-stamping authority is trusted
};
// Reads the allowed-signers file when one is named.
[[nodiscard]] Result<Trust> read_trust(const std::string& signers_file, const std::string& stamp_ca_file,
                                       Disk& disk = real_disk());

enum class TimeBasis { claimed, stamped };

struct SignatureReport {
  unsigned number = 0;
  Statement statement;
  PublicKey key;
  std::string holder;          // of the key, from the allowed-signers file
  bool good = false;           // the signature is whole and its key may sign for the role
  bool by_ssh_keygen = false;  // verified there, not here
  TimeBasis basis = TimeBasis::claimed;
  Instant time;  // from the stamp, else as claimed
};

struct RunCheck {
  Bag bag;
  std::vector<SignatureReport> signatures;  // by number
  std::vector<std::string> roles;           // that must sign, from bag-info.txt, in order
  bool any_order = false;
  std::vector<std::string> unsigned_roles;
  [[nodiscard]] bool sealed() const { return !signatures.empty(); }
};

// Everything of verify_bag, and of the run folder's own rules: safe payload names, every tag file proved,
// statements in sequence and about this run, signatures good at their time, no key in two roles, roles in
// order. ok() means: nothing was changed, and every role that must sign has signed with a key that was
// allowed. Further rules:
//   tag-file-unlisted, stray-signature-file, unfinished-signature (warning), statement-form,
//   statement-missing, statement-of-other-run, statement-chain, signature-missing, signature-form,
//   signature-bad, signature-malleable, weak-key, wrong-namespace, signers-unknown, key-not-allowed,
//   key-expired, key-not-yet-valid, role-not-asked, role-signed-twice, role-out-of-order,
//   key-in-two-roles, role-unsigned, revision-without-origin, time-only-claimed (note), stamp-*,
//   claimed-time-after-stamp, claimed-times-out-of-order (warning), dispositions-differ (warning)
[[nodiscard]] Result<RunCheck> verify_run(const std::string& folder, const Trust& trust,
                                          Disk& disk = real_disk());

// The same for everything but the payload's bytes, which are not read: the signatures of a run whose
// checksums are known good. Used by the archive.
[[nodiscard]] Result<RunCheck> verify_signatures(const std::string& folder, Bag bag, const Trust& trust,
                                                 Disk& disk = real_disk());

}  // namespace vacuary::record
