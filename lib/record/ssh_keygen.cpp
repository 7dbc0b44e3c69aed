// What is left to OpenSSH's own program: making signatures, and verifying those that are not Ed25519.
#include <fmt/format.h>

#include <algorithm>

#include "record/lines.hpp"
#include "record/process.hpp"
#include "record/signature.hpp"

namespace vacuary::record {
namespace {

std::string one_line(std::string text) {
  while (!text.empty() && (text.back() == '\n' || text.back() == '\r')) text.pop_back();
  std::replace(text.begin(), text.end(), '\n', ';');
  return text;
}

// 2031-03-04T05:06:07Z -> 20310304050607Z
std::string compact_time(Instant when) {
  std::string out;
  for (const char ch : to_rfc3339(when).substr(0, 19)) {
    if (ch >= '0' && ch <= '9') out += ch;
  }
  return out + "Z";
}

}  // namespace

std::string ssh_keygen_verify(std::string_view message, std::string_view signature,
                              std::string_view allowed_signers, const std::string& principal, Instant when) {
  const ProcessOutcome run =
      run_program({"ssh-keygen", "-Y", "verify", "-f", "{2}", "-I", principal, "-n", signature_namespace,
                   "-s", "{1}", "-O", "verify-time=" + compact_time(when)},
                  {message, signature, allowed_signers});
  if (!run.started) return "the program ssh-keygen could not be started";
  if (run.exit == 0) return {};
  return "ssh-keygen says: " + one_line(run.complaint.empty() ? run.output : run.complaint);
}

Result<std::string> ssh_keygen_sign(std::string_view message, const std::string& key_file) {
  const ProcessOutcome run =
      run_program({"ssh-keygen", "-Y", "sign", "-f", key_file, "-n", signature_namespace}, {message});
  if (run.started && run.exit == 0 && !run.output.empty()) return run.output;
  return file_fault(key_file, "cannot-sign",
                    run.started ? fmt::format("ssh-keygen did not sign: {}", one_line(run.complaint))
                                : std::string("the program ssh-keygen could not be started"),
                    run.started ? "check the key file and its passphrase, or that the agent holds the key"
                                : "install the OpenSSH client");
}

}  // namespace vacuary::record
