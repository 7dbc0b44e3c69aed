#include "record/archive.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <thread>

#include "base/files.hpp"
#include "record/copy.hpp"
#include "record/lines.hpp"
#include "record/run_folder.hpp"
#include "record/stamp.hpp"

namespace vacuary::record {
namespace {

const char* const incoming = ".incoming";

Result<std::string> read_text(Disk& disk, const std::string& path) {
  std::string bytes;
  if (const Errno error = read_whole(disk, path, largest_tag_file, bytes))
    return disk_fault(path, "read the file", error);
  return bytes;
}

// Makes a folder that may be there, and its name safe.
Errno ensure_folder(Disk& disk, const std::string& path) {
  const Errno error = disk.make_folder(path);
  if (error == EEXIST) return 0;
  return error == 0 ? disk.sync_folder(parent_of(path)) : error;
}

Errno exists(Disk& disk, const std::string& path, bool& there) {
  Seen seen;
  const Errno error = disk.look(path, seen);
  there = seen.kind != Kind::none;
  return error;
}

// One line of a ledger entry, whatever the bag says.
std::string ledger_value(const std::string& text) {
  constexpr std::size_t longest = 200;
  std::string out;
  for (const char ch : text) out += static_cast<unsigned char>(ch) < 0x20 || ch == 0x7F ? '?' : ch;
  if (out.size() > longest) {
    out.resize(longest);
    while (first_invalid_utf8(out) != std::string::npos) out.pop_back();  // cut inside a character
  }
  return out;
}

class Adder {
 public:
  Adder(const AddRequest& request, Disk& disk) : request_(request), disk_(disk), archive_(request.archive) {}

  Result<Added> add() {
    if (!lock() || !recover() || !copy_in() || !check_copy() || !store_signers() || !check_entry() ||
        !put_bag()) {
      if (copied_) remove_tree(disk_, in(incoming));
      return std::move(said_);
    }
    if (!put_entry()) return std::move(said_);
    added_.head = {added_.entry.number, added_.entry.sha256};
    if (const Errno error = replace_file(disk_, in("head.txt"), to_text(added_.head))) {
      // The entry counts already; only the pointer to it is old, and the next command renews it.
      fail(in("head.txt"), "renew the head", error);
      said_.back().severity = Severity::warning;
    }
    return {std::move(added_), std::move(said_)};
  }

 private:
  [[nodiscard]] std::string in(const std::string& path) const { return join(archive_, path); }
  bool fail(const std::string& path, const std::string& doing, Errno error) {
    said_.push_back(disk_fault(path, doing, error));
    return false;
  }
  bool fail(Diagnostics said) {
    said_.insert(said_.end(), said.begin(), said.end());
    return false;
  }

  bool lock() {
    constexpr unsigned pause_ms = 20;
    for (unsigned waited = 0;; waited += pause_ms) {
      const Errno error = disk_.lock(archive_, lock_);
      if (error == 0) return true;
      if (error != EWOULDBLOCK) return fail(archive_, "lock the archive", error);
      if (waited >= request_.wait_ms) {
        return fail({file_fault(archive_, "archive-busy", "somebody else is writing to the archive",
                                "try again later")});
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(pause_ms));
    }
  }

  // Brings an archive whose last operation was interrupted to the state before or after it.
  bool recover() {
    const Result<Head> head = read_head(archive_, disk_);
    if (!head.has_value()) return fail(head.diagnostics());
    added_.head = head.value();
    const std::uint64_t next = added_.head.entries + 1;
    bool entry_there = false, bag_there = false, incoming_there = false;
    Errno error = exists(disk_, in(entry_path(next)), entry_there);
    if (error == 0) error = exists(disk_, in(bag_path(next)), bag_there);
    if (error == 0) error = exists(disk_, in(incoming), incoming_there);
    if (error != 0) return fail(archive_, "look at the archive", error);
    added_.recovered = entry_there || bag_there || incoming_there;
    if (entry_there) return roll_forward(next);
    if (bag_there) error = remove_tree(disk_, in(bag_path(next)));
    if (error == 0 && incoming_there) error = remove_tree(disk_, in(incoming));
    return error == 0 || fail(archive_, "remove what an interrupted operation left", error);
  }

  bool roll_forward(std::uint64_t next) {
    const Result<Entry> entry = read_entry(archive_, next, disk_);
    if (!entry.has_value()) return fail(entry.diagnostics());
    if (entry.value().number != next || entry.value().before != added_.head.sha256) {
      return fail({file_fault(in(entry_path(next)), "entry-misplaced",
                              "there is an entry after the head that does not follow it",
                              "verify the archive before anything is added")});
    }
    // Its name may not be on the disk yet, and the head must not name what a power cut can take back.
    if (const Errno error = disk_.sync_folder(parent_of(in(entry_path(next)))))
      return fail(archive_, "write the ledger to the disk", error);
    added_.head = {next, entry.value().sha256};
    const Errno error = replace_file(disk_, in("head.txt"), to_text(added_.head));
    return error == 0 || fail(in("head.txt"), "renew the head", error);
  }

  bool copy_in() {
    copied_ = true;
    if (Diagnostics said = copy_tree(disk_, request_.run, in(incoming)); !said.empty())
      return fail(std::move(said));
    const Errno error = sync_tree(disk_, in(incoming));
    return error == 0 || fail(archive_, "write the run to the disk", error);
  }

  bool check_copy() {
    Result<RunCheck> check = verify_run(in(incoming), request_.trust, disk_);
    const bool unfinished = std::any_of(check.diagnostics().begin(), check.diagnostics().end(),
                                        [](const Diagnostic& d) { return d.rule == "unfinished-signature"; });
    for (Diagnostic& d : check.diagnostics()) point_to_run(d);
    said_.insert(said_.end(), check.diagnostics().begin(), check.diagnostics().end());
    if (!check.ok() || unfinished) return false;
    const Bag& bag = check.value().bag;
    Entry& e = added_.entry;
    e.number = added_.head.entries + 1;
    e.before = added_.head.sha256;
    e.time = {request_.time.ns - request_.time.ns % 1'000'000'000};
    e.run = ledger_value(bag.about("External-Identifier"));
    e.revision = bag.about("Revision").empty() ? "1" : ledger_value(bag.about("Revision"));
    e.files.push_back({bag.tagmanifest_sha256, join(bag_path(e.number), "tagmanifest-sha256.txt")});
    for (const std::string& path : bag.unproved) {
      const Result<std::string> bytes = read_text(disk_, in(join(incoming, path)));
      if (!bytes.has_value()) return fail(bytes.diagnostics());
      e.files.push_back({sha256_hex(bytes.value()), join(bag_path(e.number), path)});
    }
    return true;
  }

  // The user knows the run by its own folder, not by the copy's.
  void point_to_run(Diagnostic& d) const {
    const std::string copy = in(incoming);
    if (d.where && d.where->file.rfind(copy, 0) == 0)
      d.where->file = request_.run + d.where->file.substr(copy.size());
  }

  bool store_signers() {
    const std::string hash = sha256_hex(request_.trust.signers_bytes);
    const std::string path = signers_path(hash);
    added_.entry.files.push_back({hash, path});
    bool there = false;
    Errno error = exists(disk_, in(path), there);
    if (error == 0 && !there) error = replace_file(disk_, in(path), request_.trust.signers_bytes);
    return error == 0 || fail(in(path), "store the allowed signers", error);
  }

  // An entry that could not be read again would break the ledger for good.
  bool check_entry() {
    const Result<Entry> again = parse_entry(in(entry_path(added_.entry.number)), to_text(added_.entry));
    return again.has_value() || fail(again.diagnostics());
  }

  bool put_bag() {
    const std::string bag = in(bag_path(added_.entry.number));
    Errno error = ensure_folder(disk_, parent_of(bag));
    if (error == 0) error = disk_.rename_new(in(incoming), bag);
    if (error == 0) error = disk_.sync_folder(parent_of(bag));
    return error == 0 || fail(bag, "put the run in place", error);
  }

  bool put_entry() {
    const std::string path = in(entry_path(added_.entry.number));
    const std::string part = join(parent_of(path), "." + leaf_of(path) + ".part");
    const std::string text = to_text(added_.entry);
    added_.entry.sha256 = sha256_hex(text);
    Errno error = ensure_folder(disk_, parent_of(path));
    bool left_over = false;
    if (error == 0) error = exists(disk_, part, left_over);
    if (error == 0 && left_over) error = disk_.remove(part);
    if (error == 0) error = write_new(disk_, part, text);
    if (error == 0) error = disk_.rename_new(part, path);
    if (error == 0) {
      error = disk_.sync_folder(parent_of(path));
      if (error == 0) return true;
      fail(path, "write the ledger to the disk", error);
      said_.back().remedy = "the run may or may not be archived: verify the archive, which says which";
      return false;
    }
    (void)disk_.remove(part);
    remove_tree(disk_, in(bag_path(added_.entry.number)));
    return fail(path, "write the ledger entry", error);
  }

  const AddRequest& request_;
  Disk& disk_;
  std::string archive_;
  std::unique_ptr<Lock> lock_;
  bool copied_ = false;
  Added added_;
  Diagnostics said_;
};

}  // namespace

Result<Head> create_archive(const std::string& archive, Disk& disk) {
  std::vector<std::string> names;
  const Errno made = disk.make_folder(archive);
  if (made != 0 && made != EEXIST) return disk_fault(archive, "make the archive", made);
  if (const Errno error = disk.list(archive, names)) return disk_fault(archive, "list the folder", error);
  // What an interrupted creation left is no obstacle; head.txt comes last.
  for (const std::string& name : names) {
    if (name == "ledger" || name == "bags" || name == "signers" || name == "stamps" ||
        name == ".head.txt.part")
      continue;
    return file_fault(archive, "would-overwrite", fmt::format("the folder holds '{}' already", name),
                      "name a new or empty folder");
  }
  Errno error = made == 0 ? disk.sync_folder(parent_of(archive)) : 0;
  for (const char* folder : {"ledger", "bags", "signers", "stamps"}) {
    if (error == 0) error = ensure_folder(disk, join(archive, folder));
  }
  if (error == 0) error = disk.sync_folder(archive);
  const Head head;
  if (error == 0) error = replace_file(disk, join(archive, "head.txt"), to_text(head));
  if (error != 0) return disk_fault(archive, "make the archive", error);
  return head;
}

Result<Head> read_head(const std::string& archive, Disk& disk) {
  const std::string path = join(archive, "head.txt");
  Seen seen;
  if (const Errno error = disk.look(path, seen)) return disk_fault(path, "look at the head", error);
  if (seen.kind == Kind::none) {
    return file_fault(archive, "not-an-archive", "there is no file head.txt here, so this is not an archive",
                      "name an archive, or make one");
  }
  const Result<std::string> text = read_text(disk, path);
  if (!text.has_value()) return text.diagnostics();
  return parse_head(path, text.value());
}

Result<Entry> read_entry(const std::string& archive, std::uint64_t number, Disk& disk) {
  const std::string path = join(archive, entry_path(number));
  Seen seen;
  if (const Errno error = disk.look(path, seen)) return disk_fault(path, "look at the entry", error);
  if (seen.kind == Kind::none) {
    return file_fault(path, "entry-missing", fmt::format("there is no ledger entry {}", number),
                      "list the archive to see its entries");
  }
  const Result<std::string> text = read_text(disk, path);
  if (!text.has_value()) return text.diagnostics();
  Result<Entry> entry = parse_entry(path, text.value());
  if (entry.has_value() && entry.value().number != number) {
    return file_fault(path, "entry-misplaced",
                      fmt::format("the file of entry {} holds entry {}", number, entry.value().number), "");
  }
  return entry;
}

Result<Added> add_to_archive(const AddRequest& request, Disk& disk) { return Adder(request, disk).add(); }

Result<ShownRun> show_run(const std::string& archive, std::uint64_t number, const Trust& trust, Disk& disk) {
  Result<Entry> entry = read_entry(archive, number, disk);
  if (!entry.has_value()) return entry.diagnostics();
  ShownRun shown;
  shown.entry = std::move(entry).value();
  shown.folder = join(archive, bag_path(number));
  Result<Bag> bag = survey_bag(shown.folder, disk);
  if (!bag.has_value()) return bag.diagnostics();
  Diagnostics said = bag.diagnostics();
  Result<RunCheck> check = verify_signatures(shown.folder, std::move(bag).value(), trust, disk);
  said.insert(said.end(), check.diagnostics().begin(), check.diagnostics().end());
  shown.check = std::move(check).value();
  return {std::move(shown), std::move(said)};
}

Result<std::string> export_run(const std::string& archive, std::uint64_t number, const std::string& target,
                               Disk& disk) {
  const Result<Entry> entry = read_entry(archive, number, disk);
  if (!entry.has_value()) return entry.diagnostics();
  Seen seen;
  if (const Errno error = disk.look(target, seen)) return disk_fault(target, "look at the target", error);
  if (seen.kind != Kind::none) {
    return file_fault(target, "would-overwrite", "there is something of this name already",
                      "name another folder");
  }
  const std::string part = join(parent_of(target), "." + leaf_of(target) + ".part");
  remove_tree(disk, part);
  const auto fail = [&](Diagnostics said) {
    remove_tree(disk, part);
    return said;
  };
  if (Diagnostics said = copy_tree(disk, join(archive, bag_path(number)), part); !said.empty())
    return fail(said);
  const Result<Bag> bag = verify_bag(part, disk);
  if (!bag.ok()) return fail(bag.diagnostics());
  if (bag.value().tagmanifest_sha256 !=
      entry.value().sum_of(join(bag_path(number), "tagmanifest-sha256.txt"))) {
    return fail({file_fault(join(archive, bag_path(number)), "ledgered-file-changed",
                            "the run is not the one in the ledger", "verify the archive")});
  }
  Errno error = sync_tree(disk, part);
  if (error == 0) error = disk.rename_new(part, target);
  if (error == 0) error = disk.sync_folder(parent_of(target));
  if (error != 0) return fail({disk_fault(target, "put the copy in place", error)});
  return target;
}

Result<std::string> request_entry_stamp(const std::string& archive, std::uint64_t number, Disk& disk) {
  const Result<std::string> text = read_text(disk, join(archive, entry_path(number)));
  if (!text.has_value()) return text.diagnostics();
  return stamp_request(text.value());
}

Result<std::string> add_entry_stamp(const std::string& archive, std::uint64_t number,
                                    std::string_view response, const std::string& ca_file, Disk& disk) {
  const Result<std::string> text = read_text(disk, join(archive, entry_path(number)));
  if (!text.has_value()) return text.diagnostics();
  const std::string path = join(archive, stamp_path(number));
  const Result<Instant> checked = check_stamp(path, response, text.value(), ca_file);
  if (!checked.has_value()) return checked.diagnostics();
  if (const Errno error = replace_file(disk, path, response))
    return disk_fault(path, "write the time stamp", error);
  return path;
}

}  // namespace vacuary::record
