// Writing a run folder: plan files and log byte for byte as received, and the reports, as a BagIt
// 1.0 bag that `sha256sum -c` can check.
#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "base/result.hpp"
#include "record/bag.hpp"
#include "record/disk.hpp"

namespace vacuary::record {

struct Bytes {
  std::string bytes;
};
// What somebody read of a file before it is copied.
struct ReadBefore {
  std::uint64_t octets = 0;
  std::string sha256;
};
struct CopyOf {
  std::string path;  // a regular file; streamed, so it may be of any size
  // The copy must begin with these octets, else the account is not of the log in the record. More may follow,
  // with a warning: the log grew, or its reader stopped early.
  std::optional<ReadBefore> read_before = {};
};

struct PayloadFile {
  // Under data/, each part of [A-Za-z0-9._-] and not starting with '.' or '-': other characters would
  // have to be percent-encoded, which `sha256sum -c` does not understand.
  std::string payload_path;
  std::variant<Bytes, CopyOf> content;
  // What the file was called where it came from. Recorded in bag-info.txt when it differs.
  std::string original_name;
};

struct RunFolder {
  std::vector<PayloadFile> payload;
  // bag-info.txt elements in order, for example External-Identifier, External-Description,
  // Bagging-Date (YYYY-MM-DD). Control characters in values become blanks. Payload-Oxum and
  // Original-Name are added here and must not be given.
  Info info;
};

struct WrittenRun {
  std::string path;
  std::vector<BagFile> files;  // payload as written: compare with what was read before trusting it
  std::uint64_t octets = 0;    // of the payload
  std::string tagmanifest_sha256;
  bool replaced = false;  // an older, unsealed run folder
};

// Writes everything into a hidden folder beside `path`, syncs it, gives it its name in one step and
// syncs the parent folder. After a failure, or a power cut at any moment, `path` is what it was
// before: absent, or the old run folder, whole. An existing `path` is refused; with `force` it is
// replaced if it is a run folder (holds bagit.txt) that nobody has signed, and nothing else.
// Rules of failures: changed-meanwhile, would-overwrite, sealed-run, unsafe-path, listed-twice, disk-fault.
[[nodiscard]] Result<WrittenRun> write_run(const std::string& path, const RunFolder& run, bool force,
                                           Disk& disk = real_disk());

// A payload path for a file of the user's: `folder` ("data/plan") and a safe form of its name, unlike
// any in `taken`, to which it is added.
[[nodiscard]] std::string payload_path_for(const std::string& folder, const std::string& original_name,
                                           std::set<std::string>& taken);

// Why `path` is not a safe payload path of a run folder, or an empty string.
[[nodiscard]] std::string unsafe_payload_reason(const std::string& path);

// Somebody has signed the run folder: there is something in its folder signatures/.
[[nodiscard]] Errno is_sealed(Disk& disk, const std::string& run_folder, bool& sealed);

}  // namespace vacuary::record
