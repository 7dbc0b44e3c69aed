#include "record/run_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "record/lines.hpp"
#include "record/run_folder.hpp"
#include "record/stamp.hpp"

namespace vacuary::record {
namespace {

constexpr std::size_t largest_signature_file = std::size_t{1} << 20U;
const char* const do_not_trust = "do not rely on this run; take an intact copy from a backup or the archive";

struct Files {
  std::string statement_file;
  std::string statement, signature, stamp;
  bool has_signature = false, has_stamp = false;
};

bool ends_with(const std::string& text, std::string_view end) {
  return text.size() >= end.size() && text.compare(text.size() - end.size(), end.size(), end) == 0;
}

class Checker {
 public:
  Checker(std::string folder, const Trust& trust, Disk& disk)
      : folder_(std::move(folder)), trust_(trust), disk_(disk) {}

  Result<RunCheck> run(Bag bag) {
    check_.bag = std::move(bag);
    check_.roles = check_.bag.all_about("Signing-Role");
    check_.any_order = check_.bag.about("Signing-Order") == "any";
    check_profile();
    read_signers();
    collect();
    std::string before;  // text of the statement before
    for (auto& [number, files] : files_) {
      check_one(number, files, before);
      before = files.statement;
    }
    check_together();
    return {std::move(check_), std::move(said_)};
  }

 private:
  void say(const std::string& file, const char* rule, std::string message, std::string remedy = do_not_trust,
           Severity severity = Severity::error) {
    said_.push_back(file_fault(join(folder_, file), rule, std::move(message), std::move(remedy)));
    said_.back().severity = severity;
  }
  void take(const Diagnostics& more) { said_.insert(said_.end(), more.begin(), more.end()); }

  void check_profile() {
    for (const BagFile& file : check_.bag.files) {
      const std::string reason = unsafe_payload_reason(file.path);
      if (!reason.empty())
        say(file.path, "unsafe-path", "a run folder holds no file of such a name: " + reason);
    }
    for (const std::string& path : check_.bag.unproved) {
      if (path.rfind("signatures/", 0) != 0) {
        say(path, "tag-file-unlisted", "no tag manifest lists this file, so nothing proves it",
            "somebody added it after the run was written: remove it");
      }
    }
    if (check_.bag.tagmanifest_sha256.empty()) {
      say("tagmanifest-sha256.txt", "tag-file-missing",
          "a run folder has a SHA-256 tag manifest, this has none");
    }
    const std::string revision = check_.bag.about("Revision");
    if (!revision.empty() && revision != "1" && check_.bag.about("Replaces").size() != 64) {
      say("bag-info.txt", "revision-without-origin",
          "a later revision names the one before in Replaces, this does not");
    }
  }

  void read_signers() {
    if (trust_.signers_file.empty()) return;
    Result<std::vector<AllowedSigner>> signers =
        parse_allowed_signers(trust_.signers_file, trust_.signers_bytes);
    take(signers.diagnostics());
    signers_ = std::move(signers).value();
  }

  void collect() {
    for (const std::string& path : check_.bag.unproved) {
      if (path.rfind("signatures/", 0) == 0) collect_one(path, path.substr(11));
    }
    unsigned expected = 1;
    for (auto at = files_.begin(); at != files_.end();) {
      if (at->second.statement_file.empty()) {
        say("signatures", "unfinished-signature",
            fmt::format("there is a signature number {} without its statement: signing was interrupted",
                        at->first),
            "sign again; what is left over does no harm", Severity::warning);
        at = files_.erase(at);
        continue;
      }
      if (at->first != expected) {
        say("signatures", "statement-missing",
            fmt::format("statement {} is not there, but {} is", expected, at->first));
      }
      expected = at->first + 1;
      ++at;
    }
  }

  void collect_one(const std::string& path, std::string name) {
    const bool stamp = ends_with(name, ".sig.tsr");
    const bool signature = ends_with(name, ".sig");
    if (stamp || signature) name.resize(name.size() - (stamp ? 8 : 4));
    unsigned number = 0;
    std::string role;
    if (!statement_name(name, number, role)) {
      const bool part = name.front() == '.' && ends_with(name, ".part");
      say(path, part ? "unfinished-signature" : "stray-signature-file",
          part ? "signing was interrupted and left this file"
               : "this file is no statement, signature or time stamp",
          part ? "remove it" : "remove it, or find out who put it there",
          part ? Severity::warning : Severity::error);
      return;
    }
    std::string bytes;
    if (const Errno error = read_whole(disk_, join(folder_, path), largest_signature_file, bytes)) {
      said_.push_back(disk_fault(join(folder_, path), "read the file", error));
      return;
    }
    Files& files = files_[number];
    if (stamp) {
      files.stamp = std::move(bytes);
      files.has_stamp = true;
    } else if (signature) {
      files.signature = std::move(bytes);
      files.has_signature = true;
    } else if (!files.statement_file.empty()) {
      say(path, "stray-signature-file", fmt::format("there are two statements number {}", number));
    } else {
      files.statement_file = path;
      files.statement = std::move(bytes);
    }
  }

  void check_one(unsigned number, const Files& files, const std::string& before) {
    Result<Statement> statement = parse_statement(join(folder_, files.statement_file), files.statement);
    take(statement.diagnostics());
    if (!statement.has_value()) return;
    SignatureReport report;
    report.number = number;
    report.statement = std::move(statement).value();
    report.time = report.statement.time;
    check_place(report, files, before);
    check_stamp_of(report, files);
    report.good = check_signature_of(report, files);
    check_.signatures.push_back(std::move(report));
  }

  void check_place(const SignatureReport& report, const Files& files, const std::string& before) {
    const Statement& s = report.statement;
    if (statement_path(report.number, s.role) != files.statement_file) {
      say(files.statement_file, "statement-chain",
          fmt::format("the file's name does not fit the role '{}' inside", s.role));
    }
    if (s.tagmanifest != check_.bag.tagmanifest_sha256) {
      say(files.statement_file, "statement-of-other-run",
          fmt::format("the statement is about a run with the tag manifest {}, this run's is {}",
                      s.tagmanifest, check_.bag.tagmanifest_sha256));
    }
    const bool first = report.number == 1;
    const bool chained = first ? s.after.empty()
                               : s.after.size() == 1 && s.after[0].sha256 == sha256_hex(before) &&
                                     s.after[0].path == statement_file_before(report.number);
    if (!chained) {
      say(files.statement_file, "statement-chain",
          first ? "the first statement names one before it"
                : "the statement before this one is not the one it was signed after");
    }
  }

  std::string statement_file_before(unsigned number) {
    const auto at = files_.find(number - 1);
    return at == files_.end() ? std::string{} : at->second.statement_file;
  }

  void check_stamp_of(SignatureReport& report, const Files& files) {
    if (!files.has_stamp || trust_.stamp_ca_file.empty()) {
      say(files.statement_file, "time-only-claimed",
          files.has_stamp
              ? "there is a time stamp, but no trusted authority was given: the time is only claimed"
              : "the time is only claimed by the signer: there is no time stamp",
          "", Severity::note);
      return;
    }
    const Result<Instant> stamped = check_stamp(join(folder_, files.statement_file + ".sig.tsr"), files.stamp,
                                                files.signature, trust_.stamp_ca_file);
    take(stamped.diagnostics());
    if (!stamped.has_value()) return;
    constexpr std::int64_t clocks_differ_ns = 300LL * 1'000'000'000;
    report.basis = TimeBasis::stamped;
    report.time = stamped.value();
    if (report.statement.time.ns > report.time.ns + clocks_differ_ns) {
      say(files.statement_file, "claimed-time-after-stamp",
          fmt::format("the signer claims {}, but the signature was stamped at {} already",
                      to_rfc3339(report.statement.time), to_rfc3339(report.time)));
    }
  }

  bool check_signature_of(SignatureReport& report, const Files& files) {
    const std::string& file = files.statement_file;
    if (!files.has_signature) {
      say(file + ".sig", "signature-missing", "the statement is not signed");
      return false;
    }
    Result<SshSignature> parsed = parse_signature(join(folder_, file + ".sig"), files.signature);
    take(parsed.diagnostics());
    if (!parsed.has_value()) return false;
    const SshSignature& signature = parsed.value();
    report.key = signature.key;
    if (signature.name_space != signature_namespace) {
      say(file + ".sig", "wrong-namespace",
          fmt::format("the signature was made for '{}', not for '{}'", signature.name_space,
                      signature_namespace));
      return false;
    }
    switch (check_signature(signature, files.statement)) {
      case SignatureCheck::good:
        return check_permission(report, file);
      case SignatureCheck::other_type:
        return check_elsewhere(report, files);
      case SignatureCheck::weak_key:
        say(file + ".sig", "weak-key", "anybody can make signatures that fit this key");
        return false;
      case SignatureCheck::malleable:
        say(file + ".sig", "signature-malleable",
            "this is an altered form of a signature, not one that a signer made");
        return false;
      case SignatureCheck::bad:
        break;
    }
    say(file + ".sig", "signature-bad",
        "the signature does not fit the statement: one of them was changed or swapped");
    return false;
  }

  bool check_permission(SignatureReport& report, const std::string& file) {
    if (trust_.signers_file.empty()) {
      say(file, "signers-unknown",
          fmt::format("the signature fits the key {}, but nothing says whose that is",
                      fingerprint(report.key)),
          "name the allowed-signers file of your plant");
      return false;
    }
    const std::string principal = role_id(report.statement.role);
    const Permission p = permission(signers_, report.key, principal, report.time);
    report.holder = p.holder;
    if (p.allowed == Allowed::yes) return true;
    const std::string bound = p.bound ? to_rfc3339(*p.bound) : "";
    const std::string when = fmt::format("{} ({})", to_rfc3339(report.time),
                                         report.basis == TimeBasis::stamped ? "stamped" : "as claimed");
    const char* const ask = "ask who keeps the allowed-signers file";
    if (p.allowed == Allowed::expired) {
      say(file, "key-expired", fmt::format("the key was valid until {}, the signature is of {}", bound, when),
          ask);
    } else if (p.allowed == Allowed::not_yet_valid) {
      say(file, "key-not-yet-valid",
          fmt::format("the key is valid from {}, the signature is of {}", bound, when), ask);
    } else {
      say(file, "key-not-allowed",
          fmt::format("the key {} {} as '{}' in {}", fingerprint(report.key),
                      p.allowed == Allowed::unknown_key ? "is nobody's who may sign" : "may not sign",
                      principal, trust_.signers_file),
          ask);
    }
    return false;
  }

  bool check_elsewhere(SignatureReport& report, const Files& files) {
    if (trust_.signers_file.empty()) return check_permission(report, files.statement_file);
    report.by_ssh_keygen = true;
    report.holder = permission(signers_, report.key, role_id(report.statement.role), report.time).holder;
    const std::string complaint = ssh_keygen_verify(files.statement, files.signature, trust_.signers_bytes,
                                                    role_id(report.statement.role), report.time);
    if (complaint.empty()) return true;
    say(files.statement_file + ".sig", "signature-bad",
        fmt::format("the signature by a key of type {} does not verify: {}", report.key.type, complaint));
    return false;
  }

  void check_together() {
    std::map<std::string, unsigned> roles, keys;
    std::size_t furthest = 0;
    for (const SignatureReport& report : check_.signatures) {
      const std::string file = statement_path(report.number, report.statement.role);
      check_role(report, file, furthest);
      const auto [role, new_role] = roles.emplace(report.statement.role, report.number);
      if (!new_role)
        say(file, "role-signed-twice",
            fmt::format("'{}' signed as number {} already", role->first, role->second));
      const auto [key, new_key] = keys.emplace(report.key.blob, report.number);
      if (!new_key && new_role && !report.key.blob.empty()) {
        say(file, "key-in-two-roles",
            fmt::format("the key also signed as number {}: one key cannot fill two roles", key->second),
            "another person has to sign");
      }
    }
    for (const std::string& role : check_.roles) {
      if (roles.count(role) == 0) check_.unsigned_roles.push_back(role);
    }
    for (const std::string& role : check_.unsigned_roles) {
      say("signatures", "role-unsigned", fmt::format("'{}' has not signed", role), "have it signed");
    }
    if (check_.signatures.empty() && check_.roles.empty()) {
      say("signatures", "role-unsigned", "nobody has signed this run", "have it signed");
    }
    warn_of_differences();
  }

  void check_role(const SignatureReport& report, const std::string& file, std::size_t& furthest) {
    if (check_.roles.empty()) return;
    const auto at = std::find(check_.roles.begin(), check_.roles.end(), report.statement.role);
    if (at == check_.roles.end()) {
      say(file, "role-not-asked",
          fmt::format("the recipe does not ask for a signature of '{}'", report.statement.role));
      return;
    }
    const auto place = static_cast<std::size_t>(at - check_.roles.begin()) + 1;
    if (!check_.any_order && place < furthest) {
      say(file, "role-out-of-order",
          fmt::format("'{}' signed after a role that comes later", report.statement.role));
    }
    furthest = std::max(furthest, place);
  }

  void warn_of_differences() {
    for (std::size_t i = 1; i < check_.signatures.size(); ++i) {
      const Statement& a = check_.signatures[i - 1].statement;
      const Statement& b = check_.signatures[i].statement;
      const std::string file = statement_path(check_.signatures[i].number, b.role);
      if (b.time < a.time) {
        say(file, "claimed-times-out-of-order",
            "this statement claims an earlier time than the one before it", "", Severity::warning);
      }
      if (a.disposition != b.disposition) {
        say(file, "dispositions-differ",
            fmt::format("'{}' says {}, '{}' says {}", a.role, name(a.disposition), b.role,
                        name(b.disposition)),
            "the last word is a person's: talk to each other", Severity::warning);
      }
    }
  }

  std::string folder_;
  const Trust& trust_;
  Disk& disk_;
  RunCheck check_;
  Diagnostics said_;
  std::vector<AllowedSigner> signers_;
  std::map<unsigned, Files> files_;
};

}  // namespace

Result<Trust> read_trust(const std::string& signers_file, const std::string& stamp_ca_file, Disk& disk) {
  Trust trust{signers_file, "", stamp_ca_file};
  if (signers_file.empty()) return trust;
  const Errno error = read_whole(disk, signers_file, largest_tag_file, trust.signers_bytes);
  if (error != 0) return disk_fault(signers_file, "read the allowed-signers file", error);
  return trust;
}

Result<RunCheck> verify_signatures(const std::string& folder, Bag bag, const Trust& trust, Disk& disk) {
  return Checker(folder, trust, disk).run(std::move(bag));
}

Result<RunCheck> verify_run(const std::string& folder, const Trust& trust, Disk& disk) {
  Result<Bag> bag = verify_bag(folder, disk);
  if (!bag.has_value()) return bag.diagnostics();
  Result<RunCheck> check = verify_signatures(folder, std::move(bag.value()), trust, disk);
  check.diagnostics().insert(check.diagnostics().begin(), bag.diagnostics().begin(), bag.diagnostics().end());
  return check;
}

}  // namespace vacuary::record
