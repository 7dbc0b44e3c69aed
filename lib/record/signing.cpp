#include "record/signing.hpp"

#include <fmt/format.h>
#include <strings.h>

#include <algorithm>
#include <cerrno>
#include <charconv>

#include "record/index.hpp"
#include "record/lines.hpp"
#include "record/stamp.hpp"

namespace vacuary::record {
namespace {

Diagnostic refusal(const std::string& file, const char* rule, std::string message, std::string remedy) {
  return file_fault(file, rule, std::move(message), std::move(remedy));
}

// What is no reason not to sign: roles that are still to sign, times, and keys whose holders the signer
// was not asked to know.
bool stands_in_the_way(const Diagnostic& d, bool signers_given) {
  return d.severity == Severity::error && d.rule != "role-unsigned" &&
         (signers_given || d.rule != "signers-unknown");
}

Diagnostics obstacles(const Diagnostics& said, bool signers_given) {
  Diagnostics out;
  std::copy_if(said.begin(), said.end(), std::back_inserter(out),
               [&](const Diagnostic& d) { return stands_in_the_way(d, signers_given); });
  return out;
}

// Is it this role's turn?
Diagnostics turn_faults(const RunCheck& check, const SignRequest& request) {
  const auto refuse = [&](const char* rule, std::string message, std::string remedy) {
    return Diagnostics{refusal(request.run, rule, std::move(message), std::move(remedy))};
  };
  for (const SignatureReport& report : check.signatures) {
    if (report.statement.role == request.role) {
      return refuse("role-signed-twice", fmt::format("'{}' has signed this run already", request.role),
                    "a change of mind needs a new revision");
    }
  }
  if (check.roles.empty()) return {};
  if (std::find(check.roles.begin(), check.roles.end(), request.role) == check.roles.end()) {
    return refuse("role-not-asked",
                  fmt::format("the recipe does not ask for a signature of '{}'", request.role),
                  fmt::format("it asks for: {}", fmt::join(check.roles, ", ")));
  }
  if (!check.any_order && check.unsigned_roles.front() != request.role) {
    return refuse("role-out-of-order",
                  fmt::format("'{}' has to sign before '{}'", check.unsigned_roles.front(), request.role),
                  "wait for that signature");
  }
  return {};
}

// The new signature by itself, and beside those that are there.
Diagnostics signature_faults(const RunCheck& check, const std::string& file, std::string_view statement,
                             const std::string& armoured, PublicKey& key) {
  const Result<SshSignature> parsed = parse_signature(file, armoured);
  if (!parsed.has_value()) return parsed.diagnostics();
  key = parsed.value().key;
  const SignatureCheck result = check_signature(parsed.value(), statement);
  if (parsed.value().name_space != signature_namespace ||
      (result != SignatureCheck::good && result != SignatureCheck::other_type)) {
    return {refusal(file, "signature-bad", "the signature that was just made does not verify",
                    "try again, or with another key")};
  }
  for (const SignatureReport& report : check.signatures) {
    if (report.key == key) {
      return {refusal(file, "key-in-two-roles",
                      fmt::format("this key has signed as '{}' already", report.statement.role),
                      "one key cannot fill two roles: another person has to sign")};
    }
  }
  return {};
}

Diagnostics permission_faults(const SignRequest& request, const Trust& trust, const PublicKey& key) {
  if (trust.signers_file.empty()) return {};
  const Result<std::vector<AllowedSigner>> signers =
      parse_allowed_signers(trust.signers_file, trust.signers_bytes);
  const Permission p = permission(signers.value(), key, role_id(request.role), request.time);
  if (p.allowed == Allowed::yes) return {};
  return {refusal(trust.signers_file, "key-not-allowed",
                  fmt::format("the key {} may not sign as '{}' now", fingerprint(key), role_id(request.role)),
                  "ask who keeps the allowed-signers file")};
}

// Puts a file that may be a leftover into place, safe against a power cut.
Errno place(Disk& disk, const std::string& path, std::string_view bytes) {
  return replace_file(disk, path, bytes);
}

Errno ensure_folder(Disk& disk, const std::string& path) {
  const Errno error = disk.make_folder(path);
  if (error == EEXIST) return 0;
  return error == 0 ? disk.sync_folder(parent_of(path)) : error;
}

// The statement's path in the run folder, or empty.
std::string find_statement(Disk& disk, const std::string& run, unsigned wanted) {
  std::vector<std::string> names;
  if (disk.list(join(run, "signatures"), names) != 0) return {};
  for (const std::string& name : names) {
    unsigned number = 0;
    std::string role;
    if (statement_name(name, number, role) && number == wanted) return "signatures/" + name;
  }
  return {};
}

Result<std::string> read_signature(Disk& disk, const std::string& run, unsigned number,
                                   std::string& statement) {
  statement = find_statement(disk, run, number);
  if (statement.empty())
    return refusal(run, "signature-missing", fmt::format("there is no signature number {}", number), "");
  std::string signature;
  const std::string file = join(run, statement + ".sig");
  if (const Errno error = read_whole(disk, file, largest_tag_file, signature))
    return disk_fault(file, "read the file", error);
  return signature;
}

// A figure takes the place of one that is about the same; any other element of one of the same label.
bool takes_place(const std::pair<std::string, std::string>& now,
                 const std::pair<std::string, std::string>& then) {
  if (now.first != then.first) return false;
  Figure a, b;
  if (now.first != "Figure" || !read_figure(now.second, a) || !read_figure(then.second, b)) return true;
  return a.name == b.name && a.at == b.at && a.subject == b.subject;
}

bool same_label(const std::string& a, const char* b) { return ::strcasecmp(a.c_str(), b) == 0; }

Info revised_info(const Info& old, const std::vector<PayloadFile>& files, Info changes) {
  Info info;
  for (const auto& element : old) {
    const std::string& label = element.first;
    if (same_label(label, "Payload-Oxum") || same_label(label, "Revision") || same_label(label, "Replaces"))
      continue;
    // The name of a file that another takes the place of.
    if (same_label(label, "Original-Name") &&
        std::any_of(files.begin(), files.end(), [&](const PayloadFile& file) {
          return !file.original_name.empty() && element.second.rfind(file.payload_path + " ", 0) == 0;
        })) {
      continue;
    }
    const bool replaced = std::any_of(changes.begin(), changes.end(),
                                      [&](const auto& change) { return takes_place(change, element); });
    if (!replaced) info.push_back(element);
  }
  info.insert(info.end(), changes.begin(), changes.end());
  return info;
}

}  // namespace

Result<Signed> sign_run(const SignRequest& request, const Trust& trust, Disk& disk, const Signer& signer) {
  std::unique_ptr<Lock> lock;
  if (const Errno error = disk.lock(request.run, lock))
    return disk_fault(request.run, "lock the run folder", error);
  Result<RunCheck> checked = verify_run(request.run, trust, disk);
  const bool signers_given = !trust.signers_file.empty();
  if (Diagnostics faults = obstacles(checked.diagnostics(), signers_given); !faults.empty()) return faults;
  const RunCheck& check = checked.value();
  if (Diagnostics faults = turn_faults(check, request); !faults.empty()) return faults;

  Signed done;
  done.number = static_cast<unsigned>(check.signatures.size()) + 1;
  Statement statement{request.role,
                      request.disposition,
                      request.reason,
                      request.signer,
                      request.time,
                      check.bag.tagmanifest_sha256,
                      {}};
  if (done.number > 1) {
    const SignatureReport& before = check.signatures.back();
    statement.after = {
        {sha256_hex(to_text(before.statement)), statement_path(before.number, before.statement.role)}};
  }
  if (Diagnostics faults = check_statement(statement); !faults.empty()) return faults;
  const std::string text = to_text(statement);
  const Result<std::string> armoured = signer ? signer(text) : ssh_keygen_sign(text, request.key_file);
  if (!armoured.has_value()) return armoured.diagnostics();
  PublicKey key;
  const std::string path = statement_path(done.number, request.role);
  Diagnostics faults = signature_faults(check, join(request.run, path + ".sig"), text, armoured.value(), key);
  if (faults.empty()) faults = permission_faults(request, trust, key);
  if (!faults.empty()) return faults;

  done.statement_file = join(request.run, path);
  done.signature_file = done.statement_file + ".sig";
  Errno error = ensure_folder(disk, join(request.run, "signatures"));
  if (error == 0) error = place(disk, done.signature_file, armoured.value());
  if (error == 0) error = place(disk, done.statement_file, text);
  if (error != 0) return disk_fault(done.statement_file, "write the statement", error);
  done.fingerprint = fingerprint(key);
  std::copy_if(check.unsigned_roles.begin(), check.unsigned_roles.end(),
               std::back_inserter(done.still_unsigned),
               [&](const std::string& role) { return role != request.role; });
  return done;
}

Result<std::string> request_stamp(const std::string& run, unsigned number, Disk& disk) {
  std::string statement;
  const Result<std::string> signature = read_signature(disk, run, number, statement);
  if (!signature.has_value()) return signature.diagnostics();
  return stamp_request(signature.value());
}

Result<std::string> add_stamp(const std::string& run, unsigned number, std::string_view response,
                              const std::string& ca_file, Disk& disk) {
  std::string statement;
  const Result<std::string> signature = read_signature(disk, run, number, statement);
  if (!signature.has_value()) return signature.diagnostics();
  const std::string file = join(run, statement + ".sig.tsr");
  if (!ca_file.empty()) {
    const Result<Instant> checked = check_stamp(file, response, signature.value(), ca_file);
    if (!checked.has_value()) return checked.diagnostics();
  }
  if (const Errno error = place(disk, file, response)) return disk_fault(file, "write the time stamp", error);
  return file;
}

Result<WrittenRun> revise_run(const std::string& old_run, const std::string& path,
                              std::vector<PayloadFile> changes, Info info, Disk& disk) {
  Result<Bag> old = verify_bag(old_run, disk);
  if (!old.ok()) return old.diagnostics();
  RunFolder run;
  run.payload = std::move(changes);
  for (const BagFile& file : old.value().files) {
    const bool changed = std::any_of(run.payload.begin(), run.payload.end(),
                                     [&](const PayloadFile& p) { return p.payload_path == file.path; });
    if (!changed) run.payload.push_back({file.path, CopyOf{join(old_run, file.path)}, ""});
  }
  const std::string before = old.value().about("Revision");
  unsigned revision = 1;
  std::from_chars(before.data(), before.data() + before.size(), revision);
  run.info = revised_info(old.value().info, run.payload, std::move(info));
  run.info.emplace_back("Revision", std::to_string(revision + 1));
  run.info.emplace_back("Replaces", old.value().tagmanifest_sha256);
  bool sealed = false;
  if (const Errno error = is_sealed(disk, old_run, sealed))
    return disk_fault(old_run, "look at its signatures", error);
  Result<WrittenRun> written = write_run(path, run, false, disk);
  if (written.has_value() && !sealed) {
    written.diagnostics().push_back(refusal(old_run, "unsigned-origin",
                                            "nobody has signed the revision that this one replaces",
                                            "keep it beside this one all the same: this one names it"));
    written.diagnostics().back().severity = Severity::warning;
  }
  return written;
}

}  // namespace vacuary::record
