// An archive: sealed run folders, and a ledger in which each entry holds the hash of the one before.
//
// Durability. An entry counts from the moment its ledger file has its name; before that, everything it
// names is on the disk. Whatever interrupts an operation (error, kill, power cut, full disk), the
// archive is as before or as after it, verify_archive says which, and the next add_to_archive clears up.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "record/ledger.hpp"
#include "record/run_check.hpp"

namespace vacuary::record {

// An empty archive in a new or empty folder.
[[nodiscard]] Result<Head> create_archive(const std::string& archive, Disk& disk = real_disk());

struct AddRequest {
  std::string archive;
  std::string run;            // a run folder that verify_run finds nothing wrong with
  Trust trust;                // the allowed signers; a copy goes into the archive
  Instant time;               // now
  unsigned wait_ms = 10'000;  // for another writer to finish
};
struct Added {
  Entry entry;
  Head head;               // keep a copy elsewhere: it shows later that nothing was rolled back
  bool recovered = false;  // an interrupted operation was cleared up first
};
// The run is copied, and the copy is verified: what is archived is what was checked. The cost does not
// depend on how many runs are archived.
// Rules of failures: those of verify_run, and not-an-archive, archive-busy, disk-fault.
[[nodiscard]] Result<Added> add_to_archive(const AddRequest& request, Disk& disk = real_disk());

struct ArchiveCheckRequest {
  std::string archive;
  Trust trust;                  // without signers: the archive's own copies are used, and a note says so
  std::string saved_head_file;  // a copy of head.txt kept elsewhere; empty: none
  unsigned threads = 0;         // 0: one per processor
  bool payload = true;          // false: only the ledger, the signatures and the tag manifests
};
struct ArchiveCheck {
  Head head;
  std::uint64_t runs = 0;    // entries whose bag verified
  std::uint64_t octets = 0;  // payload read
};
// Everything of verify_run for each run, and of the ledger. ok() means nothing was changed, dropped,
// reordered or added. Further rules, each naming its entry:
//   not-an-archive, ledger-form, entry-missing, entry-edited, entry-misplaced, head-differs,
//   bag-missing, bag-not-in-ledger, ledgered-file-changed, signature-added, signers-changed,
//   ledger-rolled-back, ledger-rewritten, origin-not-archived (warning), stray-file (warning),
//   interrupted-add (warning: the archive is whole, as before or as after), stamp-*,
//   signers-from-archive (note)
[[nodiscard]] Result<ArchiveCheck> verify_archive(const ArchiveCheckRequest& request,
                                                  Disk& disk = real_disk());

[[nodiscard]] Result<Head> read_head(const std::string& archive, Disk& disk = real_disk());
[[nodiscard]] Result<Entry> read_entry(const std::string& archive, std::uint64_t number,
                                       Disk& disk = real_disk());

// What is archived under a number, with its signatures verified; the payload's bytes are not read.
struct ShownRun {
  Entry entry;
  std::string folder;  // of the run, in the archive
  RunCheck check;
};
[[nodiscard]] Result<ShownRun> show_run(const std::string& archive, std::uint64_t number, const Trust& trust,
                                        Disk& disk = real_disk());

// A copy of an archived run folder at `target`, which must be new; verified after copying.
[[nodiscard]] Result<std::string> export_run(const std::string& archive, std::uint64_t number,
                                             const std::string& target, Disk& disk = real_disk());

// RFC 3161 stamp over a ledger entry: it proves that this and every entry before existed by then.
[[nodiscard]] Result<std::string> request_entry_stamp(const std::string& archive, std::uint64_t number,
                                                      Disk& disk = real_disk());
[[nodiscard]] Result<std::string> add_entry_stamp(const std::string& archive, std::uint64_t number,
                                                  std::string_view response, const std::string& ca_file,
                                                  Disk& disk = real_disk());

}  // namespace vacuary::record
