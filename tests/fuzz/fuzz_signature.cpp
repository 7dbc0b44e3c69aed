// Any bytes as a signature file, an allowed-signers file and a time stamp: no crash, and nothing verifies
// that nobody signed.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "record/record.hpp"

using namespace vacuary;
using namespace vacuary::record;

namespace {

void require(bool holds) {
  if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const Result<SshSignature> signature = parse_signature("x.sig", bytes);
  require(signature.has_value() || !signature.diagnostics().empty());
  if (signature.has_value()) {
    require(signature.value().hash == "sha256" || signature.value().hash == "sha512");
    // The seeds are signatures over other messages.
    require(check_signature(signature.value(), "nobody has signed this") != SignatureCheck::good);
    require(fingerprint(signature.value().key).size() > 20);
  }
  const Result<std::vector<AllowedSigner>> signers = parse_allowed_signers("allowed_signers", bytes);
  for (const AllowedSigner& signer : signers.value()) {
    require(!signer.key.blob.empty() && !signer.key.type.empty());
    const Permission p = permission(signers.value(), signer.key, "operator", Instant{});
    require(p.allowed != Allowed::unknown_key || signer.cert_authority);
  }
  // No authority is trusted, so none of them can have stamped anything.
  require(!check_stamp("x.tsr", bytes, "nobody has stamped this", "/dev/null").has_value());
  const int matched = match_patterns("operator", bytes.substr(0, 200));
  require(matched >= -1 && matched <= 1);
  return 0;
}
