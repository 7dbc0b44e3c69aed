#include "record/words.hpp"

#include <fmt/format.h>

#include <iterator>

namespace vacuary::record {
namespace {

std::string plain(const std::string& text) {
  std::string out;
  for (const char ch : text) out += static_cast<unsigned char>(ch) < 0x20 || ch == 0x7F ? '?' : ch;
  return out;
}

std::string or_dash(const std::string& text) { return text.empty() ? "-" : plain(text); }

std::string signature_text(const SignatureReport& s) {
  std::string out =
      fmt::format("  {}. {}: {}", s.number, plain(s.statement.role), name(s.statement.disposition));
  if (!s.statement.reason.empty()) out += fmt::format(", \"{}\"", plain(s.statement.reason));
  out += fmt::format("\n     {} by {}, {} ({})\n", s.good ? "signed" : "NOT VALID, claimed to be signed",
                     plain(s.statement.signer), to_rfc3339(s.time),
                     s.basis == TimeBasis::stamped ? "time stamp" : "time as claimed");
  if (s.key.blob.empty()) return out;
  out += fmt::format("     key {} {}", plain(s.key.type), fingerprint(s.key));
  if (!s.holder.empty()) out += fmt::format(" of {}", plain(s.holder));
  return out + (s.by_ssh_keygen ? ", verified by ssh-keygen\n" : "\n");
}

}  // namespace

std::string run_check_text(const RunCheck& check) {
  const Bag& bag = check.bag;
  const std::string revision = bag.about("Revision");
  std::string out =
      fmt::format("run {}, revision {}: {} files, {} bytes\n", or_dash(bag.about("External-Identifier")),
                  revision.empty() ? "1" : plain(revision), bag.files.size(), bag.octets);
  if (!bag.about("Replaces").empty())
    out += fmt::format("replaces the run with tag manifest {}\n", plain(bag.about("Replaces")));
  out += fmt::format("tag manifest {}\n", or_dash(bag.tagmanifest_sha256));
  out += check.sealed() ? "signatures\n" : "not signed\n";
  for (const SignatureReport& s : check.signatures) out += signature_text(s);
  for (const std::string& role : check.unsigned_roles)
    out += fmt::format("  still to sign: {}\n", plain(role));
  return out;
}

std::string run_list_heading() {
  return fmt::format("{:>8}  {:<10}  {:<13}  {:<6}  {:>3}  {}\n", "entry", "started", "verdict", "signed",
                     "rev", "run");
}

std::string run_list_text(const std::vector<IndexedRun>& runs) {
  std::string out;
  for (const IndexedRun& r : runs) {
    fmt::format_to(std::back_inserter(out), "{:>8}  {:<10}  {:<13}  {:<6}  {:>3}  {}", r.entry,
                   or_dash(r.started.substr(0, 10)), or_dash(r.verdict), or_dash(r.disposition),
                   or_dash(r.revision), or_dash(r.run));
    if (!r.recipe.empty() && r.run.find(r.recipe) == std::string::npos) out += ", " + plain(r.recipe);
    if (r.replaced_by != 0) fmt::format_to(std::back_inserter(out), " (replaced by entry {})", r.replaced_by);
    out += '\n';
  }
  return out;
}

std::string shown_run_text(const ShownRun& shown) {
  return fmt::format("entry {}, archived {} in {}\n{}", shown.entry.number, to_rfc3339(shown.entry.time),
                     plain(shown.folder), run_check_text(shown.check));
}

std::string archive_check_text(const ArchiveCheck& check) {
  std::string out = fmt::format("{} of {} runs verified, {} bytes of payload read\n", check.runs,
                                check.head.entries, check.octets);
  if (check.head.entries > 0)
    out += fmt::format("head: entry {}, {}\n", check.head.entries, check.head.sha256);
  return out;
}

}  // namespace vacuary::record
