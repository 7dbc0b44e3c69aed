// Signing a run, stamping a signature, and making a new revision of a sealed run.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "record/run_check.hpp"
#include "record/run_folder.hpp"

namespace vacuary::record {

struct SignRequest {
  std::string run;       // the run folder
  std::string role;      // "process engineer"
  std::string key_file;  // as for ssh-keygen -f: a private key, or the .pub of a key in an agent
  Disposition disposition = Disposition::reject;
  std::string reason;
  std::string signer;  // name, as claimed
  Instant time;        // as claimed
};

struct Signed {
  unsigned number = 0;
  std::string statement_file, signature_file;
  std::string fingerprint;
  std::vector<std::string> still_unsigned;  // roles
};

// Makes the armoured signature of some bytes.
using Signer = std::function<Result<std::string>(std::string_view)>;

// Verifies the run as far as it is signed, writes the role's statement, has it signed, verifies that,
// and puts both into signatures/. The run counts as signed when the statement has its name: a cut before
// that leaves at most files that verify_run calls unfinished. Refused, with nothing changed, when
// something is wrong with the run or its signatures so far, when the recipe does not ask for the role,
// when it has signed, when it is not its turn, and when the key has signed for another role.
// Whether the key is *allowed* is for the verifier to say; give `trust` to hear it before signing.
[[nodiscard]] Result<Signed> sign_run(const SignRequest& request, const Trust& trust = {},
                                      Disk& disk = real_disk(), const Signer& signer = nullptr);

// The RFC 3161 request for signature `number`; the answer, checked against `ca_file` when that is given,
// goes beside the signature.
[[nodiscard]] Result<std::string> request_stamp(const std::string& run, unsigned number,
                                                Disk& disk = real_disk());
[[nodiscard]] Result<std::string> add_stamp(const std::string& run, unsigned number,
                                            std::string_view response, const std::string& ca_file,
                                            Disk& disk = real_disk());

// A new, unsigned revision of `old_run` at `path`, which must be new; `old_run` is not touched. Its payload,
// with `changes` added or taking the place of files of the same path; its bag-info.txt, with `info` taking
// the place of elements of the same label (`Figure`: of the same name, time and subject), and the names of
// the revision and of the one it replaces. Warns when nobody has signed the old one (unsigned-origin).
// Refuses a run that does not verify as a bag.
[[nodiscard]] Result<WrittenRun> revise_run(const std::string& old_run, const std::string& path,
                                            std::vector<PayloadFile> changes, Info info,
                                            Disk& disk = real_disk());

}  // namespace vacuary::record
