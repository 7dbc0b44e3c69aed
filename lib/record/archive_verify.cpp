#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <charconv>
#include <map>
#include <mutex>
#include <set>
#include <thread>

#include "record/archive.hpp"
#include "record/lines.hpp"
#include "record/stamp.hpp"

namespace vacuary::record {
namespace {

const char* const restore = "restore the archive from a backup, and find out who changed it";

class ArchiveVerifier {
 public:
  ArchiveVerifier(const ArchiveCheckRequest& request, Disk& disk)
      : request_(request), disk_(disk), archive_(request.archive) {}

  Result<ArchiveCheck> run() {
    const Result<Head> head = read_head(archive_, disk_);
    if (!head.has_value()) return head.diagnostics();
    check_.head = head.value();
    check_top();
    read_ledger();
    check_chain();
    check_saved_head();
    check_bag_names();
    check_bags();
    check_origins();
    if (request_.trust.signers_file.empty() && check_.head.entries > 0) {
      say("signers", "signers-from-archive", "whose keys count was taken from the archive's own copies",
          "name the plant's allowed-signers file to check against it", Severity::note);
    }
    return {std::move(check_), std::move(said_)};
  }

 private:
  struct Known {
    bool there = false;
    Entry entry;
    std::string sha256;  // of the text, also of one that cannot be parsed
    std::string replaces, tagmanifest;
    Diagnostics said;
    bool verified = false;
    std::uint64_t octets = 0;
  };

  [[nodiscard]] std::string in(const std::string& path) const { return join(archive_, path); }
  [[nodiscard]] Diagnostic fault(const std::string& path, const char* rule, std::string message,
                                 const char* remedy = restore, Severity severity = Severity::error) const {
    Diagnostic d = file_fault(in(path), rule, std::move(message), remedy);
    d.severity = severity;
    return d;
  }
  void say(const std::string& path, const char* rule, std::string message, const char* remedy = restore,
           Severity severity = Severity::error) {
    said_.push_back(fault(path, rule, std::move(message), remedy, severity));
  }

  void check_top() {
    const std::set<std::string> known = {"head.txt",         "ledger",           "bags",
                                         "signers",          "stamps",           "index.sqlite",
                                         "index.sqlite-wal", "index.sqlite-shm", "index.sqlite-journal"};
    std::vector<std::string> names;
    if (const Errno error = disk_.list(archive_, names))
      said_.push_back(disk_fault(archive_, "list the archive", error));
    for (const std::string& name : names) {
      if (name == ".incoming" || name == ".head.txt.part") {
        interrupted("before", name);
      } else if (known.count(name) == 0) {
        say(name, "stray-file", "this does not belong to the archive", "remove it", Severity::warning);
      }
    }
  }

  void interrupted(const char* state, const std::string& path) {
    said_.push_back(fault(path, "interrupted-add",
                          fmt::format("adding a run was interrupted; the archive is whole, as {} it", state),
                          "the next run that is added clears this up", Severity::warning));
  }

  // Numbers of the files or folders NNNNNNNN under ledger/ or bags/, whatever the head says.
  std::set<std::uint64_t> numbers_under(const std::string& top, std::size_t name_length) {
    std::set<std::uint64_t> numbers;
    std::vector<std::string> shards, names;
    if (const Errno error = disk_.list(in(top), shards))
      said_.push_back(disk_fault(in(top), "list the folder", error));
    for (const std::string& shard : shards) {
      const std::string folder = join(top, shard);
      if (const Errno error = disk_.list(in(folder), names)) {
        said_.push_back(disk_fault(in(folder), "list the folder", error));
        continue;
      }
      for (const std::string& name : names) {
        std::uint64_t number = 0;
        const auto parsed =
            std::from_chars(name.data(), name.data() + std::min<std::size_t>(name.size(), 8), number);
        const std::string expected = top == "ledger" ? entry_path(number) : bag_path(number);
        if (name.size() == name_length && parsed.ec == std::errc{} && expected == join(folder, name)) {
          numbers.insert(number);
        } else if (name.front() == '.') {
          interrupted("before", join(folder, name));
        } else {
          say(join(folder, name), "stray-file", "this does not belong to the archive", "remove it",
              Severity::warning);
        }
      }
    }
    return numbers;
  }

  void read_ledger() {
    const std::set<std::uint64_t> there = numbers_under("ledger", 12);
    const std::uint64_t last = std::max(check_.head.entries, there.empty() ? 0 : *there.rbegin());
    // A hostile head or file name must not make us count to the end of time.
    constexpr std::uint64_t most_missing = 1000;
    std::uint64_t missing = 0;
    for (std::uint64_t n = 1; n <= last; ++n) {
      if (there.count(n) != 0) {
        read_known(n);
      } else if (++missing > most_missing) {
        say("ledger", "entry-missing",
            fmt::format("more than {} entries of {} are not there", most_missing, last));
        return;
      } else {
        say(entry_path(n), "entry-missing", fmt::format("entry {} was dropped from the ledger", n));
      }
    }
  }

  void read_known(std::uint64_t n) {
    Known known;
    std::string text;
    known.there = true;
    if (const Errno error = read_whole(disk_, in(entry_path(n)), largest_tag_file, text)) {
      said_.push_back(disk_fault(in(entry_path(n)), "read the entry", error));
      return;
    }
    known.sha256 = sha256_hex(text);
    Result<Entry> entry = parse_entry(in(entry_path(n)), text);
    said_.insert(said_.end(), entry.diagnostics().begin(), entry.diagnostics().end());
    if (entry.has_value() && entry.value().number != n) {
      say(entry_path(n), "entry-misplaced",
          fmt::format("the file of entry {} holds entry {}: entries were reordered", n,
                      entry.value().number));
    }
    if (entry.has_value()) known.entry = std::move(entry).value();
    known_[n] = std::move(known);
  }

  void check_chain() {
    for (const auto& [n, known] : known_) {
      const auto before = known_.find(n - 1);
      if (n > 1 && before != known_.end() && known.entry.number == n &&
          known.entry.before != before->second.sha256) {
        say(entry_path(n - 1), "entry-edited",
            fmt::format("entry {} is not the one that entry {} was written after", n - 1, n));
      }
    }
    const auto last = known_.find(check_.head.entries);
    if (check_.head.entries > 0 && last != known_.end() && last->second.sha256 != check_.head.sha256) {
      say(entry_path(check_.head.entries), "entry-edited",
          fmt::format("entry {} is not the one that the head names", check_.head.entries));
    }
    const std::uint64_t newest = known_.empty() ? 0 : known_.rbegin()->first;
    if (newest == check_.head.entries + 1) {
      interrupted("after", entry_path(newest));
    } else if (newest > check_.head.entries) {
      say("head.txt", "head-differs",
          fmt::format("the head names entry {}, but the ledger goes on to {}", check_.head.entries, newest));
    }
  }

  void check_saved_head() {
    if (request_.saved_head_file.empty()) return;
    std::string text;
    if (const Errno error = read_whole(disk_, request_.saved_head_file, largest_tag_file, text)) {
      said_.push_back(disk_fault(request_.saved_head_file, "read the saved head", error));
      return;
    }
    const Result<Head> saved = parse_head(request_.saved_head_file, text);
    said_.insert(said_.end(), saved.diagnostics().begin(), saved.diagnostics().end());
    if (!saved.has_value() || saved.value().entries == 0) return;
    const std::uint64_t n = saved.value().entries;
    const auto known = known_.find(n);
    if (known == known_.end()) {
      say("ledger", "ledger-rolled-back",
          fmt::format("the saved head names entry {}, the ledger ends before it", n));
    } else if (known->second.sha256 != saved.value().sha256) {
      say(entry_path(n), "ledger-rewritten",
          fmt::format("entry {} is not the one that the saved head names", n));
    }
  }

  void check_bag_names() {
    const std::set<std::uint64_t> there = numbers_under("bags", 8);
    for (const std::uint64_t n : there) {
      if (known_.count(n) != 0) continue;
      if (n == check_.head.entries + 1 && n > 0) {
        interrupted("before", bag_path(n));
      } else {
        say(bag_path(n), "bag-not-in-ledger", "there is a run that no ledger entry names");
      }
    }
    for (auto& [n, known] : known_) {
      if (there.count(n) != 0) continue;
      say(bag_path(n), "bag-missing",
          fmt::format("the run of entry {} ('{}') is not there", n, known.entry.run));
      known.entry.number = 0;
    }
  }

  // Runs are independent of each other: each thread takes the next one.
  void check_bags() {
    std::vector<std::pair<std::uint64_t, Known*>> work;
    for (auto& [n, known] : known_) {
      if (known.entry.number == n) work.emplace_back(n, &known);
    }
    std::atomic<std::size_t> next{0};
    const auto worker = [&] {
      for (std::size_t i = next++; i < work.size(); i = next++) check_bag(work[i].first, *work[i].second);
    };
    const unsigned wanted =
        request_.threads != 0 ? request_.threads : std::max(1U, std::thread::hardware_concurrency());
    std::vector<std::thread> threads;
    for (unsigned t = 1; t < wanted && t < work.size(); ++t) threads.emplace_back(worker);
    worker();
    for (std::thread& t : threads) t.join();
    for (auto& [n, known] : known_) {
      said_.insert(said_.end(), known.said.begin(), known.said.end());
      check_.runs += known.verified ? 1 : 0;
      check_.octets += known.octets;
    }
  }

  void check_bag(std::uint64_t n, Known& known) const {
    const std::string folder = bag_path(n);
    Result<Bag> bag = request_.payload ? verify_bag(in(folder), disk_) : survey_bag(in(folder), disk_);
    Diagnostics& said = known.said;
    said = bag.diagnostics();
    if (!bag.has_value()) return;
    known.replaces = bag.value().about("Replaces");
    known.tagmanifest = bag.value().tagmanifest_sha256;
    known.octets = request_.payload ? bag.value().octets : 0;
    check_ledgered_files(n, known, bag.value());
    const Trust trust = trust_for(known, said);
    const Result<RunCheck> check = verify_signatures(in(folder), std::move(bag.value()), trust, disk_);
    // That a time is only claimed is said by `verify` of the run; a note per run would bury the rest.
    std::copy_if(check.diagnostics().begin(), check.diagnostics().end(), std::back_inserter(said),
                 [](const Diagnostic& d) { return d.severity != Severity::note; });
    check_stamp_of(n, said);
    known.verified = !has_errors(said);
    known.entry.files = {};  // a hundred thousand entries would fill the memory
  }

  void check_ledgered_files(std::uint64_t n, Known& known, const Bag& bag) const {
    const std::string folder = bag_path(n);
    for (const Checksum& file : known.entry.files) {
      std::string bytes;
      const Errno error = read_whole(disk_, in(file.path), largest_tag_file, bytes);
      const bool signers = file.path.rfind("signers/", 0) == 0;
      if (error != 0) {
        known.said.push_back(fault(file.path, signers ? "signers-changed" : "ledgered-file-changed",
                                   fmt::format("entry {} names this file, but it cannot be read", n)));
      } else if (sha256_hex(bytes) != file.sha256) {
        known.said.push_back(
            fault(file.path, signers ? "signers-changed" : "ledgered-file-changed",
                  fmt::format("the file is not the one that entry {} names: it was changed or swapped", n)));
      }
    }
    for (const std::string& path : bag.unproved) {
      if (known.entry.sum_of(join(folder, path)).empty()) {
        known.said.push_back(
            fault(join(folder, path), "signature-added", fmt::format("entry {} does not name this file", n)));
      }
    }
  }

  Trust trust_for(const Known& known, Diagnostics& said) const {
    Trust trust = request_.trust;
    if (!trust.signers_file.empty()) return trust;
    for (const Checksum& file : known.entry.files) {
      if (file.path.rfind("signers/", 0) != 0) continue;
      trust.signers_file = in(file.path);
      if (const Errno error = read_whole(disk_, trust.signers_file, largest_tag_file, trust.signers_bytes)) {
        said.push_back(disk_fault(trust.signers_file, "read the allowed signers", error));
      }
    }
    return trust;
  }

  void check_stamp_of(std::uint64_t n, Diagnostics& said) const {
    std::string stamp, text;
    Seen seen;
    if (request_.trust.stamp_ca_file.empty() || disk_.look(in(stamp_path(n)), seen) != 0 ||
        seen.kind == Kind::none)
      return;
    if (read_whole(disk_, in(stamp_path(n)), largest_tag_file, stamp) != 0 ||
        read_whole(disk_, in(entry_path(n)), largest_tag_file, text) != 0) {
      said.push_back(fault(stamp_path(n), "stamp-bad", "the time stamp cannot be read"));
      return;
    }
    const Result<Instant> stamped = check_stamp(in(stamp_path(n)), stamp, text, request_.trust.stamp_ca_file);
    said.insert(said.end(), stamped.diagnostics().begin(), stamped.diagnostics().end());
  }

  void check_origins() {
    std::set<std::string> before;
    for (const auto& [n, known] : known_) {
      if (!known.replaces.empty() && before.count(known.replaces) == 0) {
        say(bag_path(n), "origin-not-archived",
            "the revision that this one replaces is not archived before it",
            "archive it too, or say where it is", Severity::warning);
      }
      before.insert(known.tagmanifest);
    }
  }

  const ArchiveCheckRequest& request_;
  Disk& disk_;
  std::string archive_;
  ArchiveCheck check_;
  Diagnostics said_;
  std::map<std::uint64_t, Known> known_;
};

}  // namespace

Result<ArchiveCheck> verify_archive(const ArchiveCheckRequest& request, Disk& disk) {
  return ArchiveVerifier(request, disk).run();
}

}  // namespace vacuary::record
