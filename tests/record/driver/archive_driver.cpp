// archive_driver add ARCHIVE RUN SIGNERS     adds a run; prints the entry's number
// archive_driver verify ARCHIVE SIGNERS      prints the number of whole runs, or what is wrong
// Exit 0: done; 1: refused or not whole.
#include <cstdio>
#include <string>

#include "record/record.hpp"

using namespace vacuary;
using namespace vacuary::record;

namespace {

int said(const Diagnostics& diagnostics) {
  std::fputs(to_text(diagnostics).c_str(), stderr);
  return 1;
}

int add(const std::string& archive, const std::string& run, const Trust& trust) {
  const Result<Added> added = add_to_archive({archive, run, trust, {}, 2000});
  if (!added.ok()) return said(added.diagnostics());
  std::printf("%llu\n", static_cast<unsigned long long>(added.value().entry.number));
  return 0;
}

int verify(const std::string& archive, const Trust& trust) {
  const Result<ArchiveCheck> check = verify_archive({archive, trust, "", 1, true});
  if (!check.ok()) return said(check.diagnostics());
  for (const Diagnostic& d : check.diagnostics()) {
    if (d.rule != "interrupted-add") return said(check.diagnostics());
  }
  std::printf("%llu\n", static_cast<unsigned long long>(check.value().runs));
  return 0;
}

}  // namespace

int main(int count, char** arguments) {
  const std::string what = count > 1 ? arguments[1] : "";
  const bool adds = what == "add" && count == 5;
  if (!adds && (what != "verify" || count != 4)) return 2;
  const Result<Trust> trust = read_trust(arguments[count - 1], "");
  if (!trust.has_value()) return said(trust.diagnostics());
  return adds ? add(arguments[2], arguments[3], trust.value()) : verify(arguments[2], trust.value());
}
