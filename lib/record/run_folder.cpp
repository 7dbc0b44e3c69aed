#include "record/run_folder.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cerrno>

#include "base/files.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

bool is_safe_char(char ch) {
  return std::isalnum(static_cast<unsigned char>(ch)) != 0 || ch == '.' || ch == '_' || ch == '-';
}

std::string lowered(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char ch) { return static_cast<char>(std::tolower(ch)); });
  return text;
}

// One line of text, whatever the user's file said: bag-info.txt is read line by line.
std::string one_line(const std::string& value) {
  std::string out;
  for (const char ch : first_invalid_utf8(value) == std::string::npos ? value : "not UTF-8 text") {
    out += static_cast<unsigned char>(ch) < 0x20 || ch == 0x7F ? ' ' : ch;
  }
  const std::size_t start = std::min(out.find_first_not_of(' '), out.size());
  const std::size_t end = out.find_last_not_of(' ');
  return end == std::string::npos ? "" : out.substr(start, end + 1 - start);
}

// A file name can hold anything but '/' and NUL; what is not plain text is percent-encoded.
std::string encoded_name(const std::string& name) {
  std::string out;
  const bool text = first_invalid_utf8(name) == std::string::npos;
  for (const char ch : name) {
    const auto byte = static_cast<unsigned char>(ch);
    const bool plain = byte >= 0x20 && byte != 0x7F && byte != '%' && (text || byte < 0x80);
    out += plain ? std::string(1, ch) : fmt::format("%{:02X}", byte);
  }
  return out;
}

class RunWriter {
 public:
  RunWriter(std::string target, const RunFolder& run, Disk& disk)
      : target_(std::move(target)), run_(run), disk_(disk) {
    while (target_.size() > 1 && target_.back() == '/') target_.pop_back();
  }

  Result<WrittenRun> write(bool force) {
    if (!check_names() || !check_target(force)) return std::move(said_);
    if (!make_part()) return std::move(said_);
    if (!fill() || !put_in_place()) {
      remove_tree(disk_, part_);
      return std::move(said_);
    }
    written_.path = target_;
    return {std::move(written_), std::move(said_)};
  }

 private:
  bool fail(Diagnostic d) {
    said_.push_back(std::move(d));
    return false;
  }
  bool fail(const std::string& path, const std::string& doing, Errno error) {
    return fail(disk_fault(path, doing, error));
  }

  bool check_names() {
    std::set<std::string> taken;
    for (const PayloadFile& file : run_.payload) {
      const std::string reason = unsafe_payload_reason(file.payload_path);
      if (!reason.empty()) {
        fail(file_fault(file.payload_path, "unsafe-path", "the payload path cannot be used: " + reason, ""));
      } else if (!taken.insert(lowered(file.payload_path)).second) {
        fail(file_fault(file.payload_path, "listed-twice", "two files of the run would have this name", ""));
      }
    }
    if (run_.payload.empty())
      fail(file_fault(target_, "bag-without-payload", "there is nothing to put into the run", ""));
    return said_.empty();
  }

  bool check_target(bool force) {
    Seen seen;
    if (const Errno error = disk_.look(target_, seen)) return fail(target_, "look at the run folder", error);
    if (seen.kind == Kind::none) return true;
    if (!force) {
      return fail(file_fault(target_, "would-overwrite", "there is something of this name already",
                             "name another folder, or add --force to replace an unsigned run folder"));
    }
    Seen declaration;
    if (const Errno error = disk_.look(join(target_, "bagit.txt"), declaration)) {
      return fail(target_, "look at the run folder", error);
    }
    if (seen.kind != Kind::folder || declaration.kind != Kind::file) {
      return fail(file_fault(target_, "would-overwrite", "this is not a run folder, so it is not replaced",
                             "name another folder"));
    }
    // Held until the old run is replaced, so that nobody signs it meanwhile.
    if (const Errno error = disk_.lock(target_, lock_)) return fail(target_, "lock the run folder", error);
    bool sealed = false;
    if (const Errno error = is_sealed(disk_, target_, sealed))
      return fail(target_, "look at its signatures", error);
    if (sealed) {
      return fail(file_fault(target_, "sealed-run", "the run is signed, so it is never replaced",
                             "name another folder: a new revision names the one before"));
    }
    written_.replaced = true;
    return true;
  }

  bool make_part() {
    Seen parent;
    if (const Errno error = disk_.look(parent_of(target_), parent))
      return fail(target_, "look at the folder", error);
    if (parent.kind == Kind::none) {
      return fail(file_fault(parent_of(target_), "disk-fault", "this folder does not exist",
                             "make it, or name another"));
    }
    for (unsigned attempt = 0;; ++attempt) {
      part_ = join(parent_of(target_), fmt::format(".{}.part-{}-{}", leaf_of(target_), ::getpid(), attempt));
      const Errno error = disk_.make_folder(part_);
      if (error == 0) return true;
      if (error != EEXIST || attempt == 99) return fail(target_, "make a folder here", error);
    }
  }

  bool fill() {
    for (const PayloadFile& file : run_.payload) {
      if (!make_folders(file.payload_path) || !write_payload(file)) return false;
    }
    std::sort(written_.files.begin(), written_.files.end(),
              [](const BagFile& a, const BagFile& b) { return a.path < b.path; });
    std::string manifest;
    for (const BagFile& file : written_.files) manifest += fmt::format("{}  {}\n", file.sha256, file.path);
    const std::vector<std::pair<std::string, std::string>> tags = {
        {"bag-info.txt", info_text()},
        {"bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"},
        {"manifest-sha256.txt", manifest}};
    std::string tagmanifest;
    for (const auto& [name, text] : tags) {
      if (!write_tag(name, text)) return false;
      tagmanifest += fmt::format("{}  {}\n", sha256_hex(text), name);
    }
    written_.tagmanifest_sha256 = sha256_hex(tagmanifest);
    if (!write_tag("tagmanifest-sha256.txt", tagmanifest)) return false;
    if (const Errno error = sync_tree(disk_, part_)) return fail(target_, "write the run to the disk", error);
    return true;
  }

  bool make_folders(const std::string& path) {
    for (std::size_t slash = path.find('/'); slash != std::string::npos; slash = path.find('/', slash + 1)) {
      const std::string folder = path.substr(0, slash);
      if (!made_.insert(folder).second) continue;
      if (const Errno error = disk_.make_folder(join(part_, folder)))
        return fail(target_, "make a folder here", error);
    }
    return true;
  }

  bool write_tag(const std::string& name, const std::string& text) {
    const Errno error = write_new(disk_, join(part_, name), text);
    return error == 0 || fail(join(target_, name), "write the file", error);
  }

  bool write_payload(const PayloadFile& file) {
    const std::string path = join(part_, file.payload_path);
    std::unique_ptr<Writer> writer;
    if (const Errno error = disk_.create(path, writer))
      return fail(join(target_, file.payload_path), "create the file", error);
    BagFile entry{file.payload_path, 0, ""};
    if (const Bytes* given = std::get_if<Bytes>(&file.content)) {
      entry.octets = given->bytes.size();
      entry.sha256 = sha256_hex(given->bytes);
      if (const Errno error = writer->write(given->bytes))
        return fail(join(target_, entry.path), "write the file", error);
    } else if (!copy(std::get<CopyOf>(file.content), *writer, entry)) {
      return false;
    }
    Errno error = writer->sync();
    if (error == 0) error = writer->close();
    if (error != 0) return fail(join(target_, entry.path), "write the file to the disk", error);
    written_.octets += entry.octets;
    written_.files.push_back(std::move(entry));
    return true;
  }

  bool copy(const CopyOf& wanted, Writer& writer, BagFile& entry) {
    const std::string& source = wanted.path;
    std::unique_ptr<Reader> reader;
    if (const Errno error = open_following(source, reader)) return fail(source, "read the file", error);
    std::string buffer(std::size_t{256} << 10U, '\0');
    Hasher hasher(Algorithm::sha256);
    std::string read_again = hasher.so_far();  // checksum of as much as was read before
    while (true) {
      std::size_t got = 0;
      if (const Errno error = reader->read(buffer.data(), buffer.size(), got))
        return fail(source, "read the file", error);
      if (got == 0) break;
      hash(hasher, {buffer.data(), got}, entry.octets, wanted, read_again);
      entry.octets += got;
      if (const Errno error = writer.write({buffer.data(), got})) {
        return fail(join(target_, entry.path), "write the file", error);
      }
    }
    if (wanted.read_before && entry.octets == wanted.read_before->octets) read_again = hasher.so_far();
    entry.sha256 = hasher.hex();
    return !wanted.read_before || compare(wanted, entry, read_again);
  }

  static void hash(Hasher& hasher, std::string_view bytes, std::uint64_t before, const CopyOf& wanted,
                   std::string& read_again) {
    const std::uint64_t stop = wanted.read_before ? wanted.read_before->octets : 0;
    if (wanted.read_before && stop >= before && stop < before + bytes.size()) {
      hasher.add(bytes.substr(0, stop - before));
      read_again = hasher.so_far();
      bytes.remove_prefix(stop - before);
    }
    hasher.add(bytes);
  }

  bool compare(const CopyOf& wanted, const BagFile& entry, const std::string& read_again) {
    if (read_again != wanted.read_before->sha256) {
      return fail(
          file_fault(wanted.path, "changed-meanwhile",
                     "the file is not the one that was read for the account: it was changed while the "
                     "program worked",
                     "wait until it is written to its end, then try again"));
    }
    if (entry.octets > wanted.read_before->octets) {
      said_.push_back(file_fault(
          wanted.path, "read-in-part",
          fmt::format(
              "the account is of the first {} bytes of {}: the file grew meanwhile, or reading stopped "
              "early; the record holds all of it",
              wanted.read_before->octets, entry.octets),
          ""));
      said_.back().severity = Severity::warning;
    }
    return true;
  }

  // The user may well name a log through a link; only inside a record are links suspect.
  Errno open_following(const std::string& source, std::unique_ptr<Reader>& reader) {
    Seen seen;
    if (const Errno error = disk_.look(source, seen)) return error;
    if (seen.kind != Kind::link) return disk_.open(source, reader);
    std::unique_ptr<char, decltype(&::free)> real(::realpath(source.c_str(), nullptr), &::free);
    return real ? disk_.open(real.get(), reader) : errno;
  }

  std::string info_text() const {
    std::string text;
    for (const auto& [label, value] : run_.info) text += fmt::format("{}: {}\n", label, one_line(value));
    for (const PayloadFile& file : run_.payload) {
      if (file.original_name.empty() || file.original_name == leaf_of(file.payload_path)) continue;
      text += fmt::format("Original-Name: {} {}\n", file.payload_path, encoded_name(file.original_name));
    }
    text += fmt::format("Payload-Oxum: {}.{}\n", written_.octets, written_.files.size());
    return text;
  }

  bool put_in_place() {
    if (!written_.replaced) {
      const Errno error = disk_.rename_new(part_, target_);
      if (error == EEXIST) {
        return fail(
            file_fault(target_, "would-overwrite", "something of this name appeared meanwhile", "try again"));
      }
      if (error != 0) return fail(target_, "put the run folder in place", error);
    } else {
      // In one step: at every moment the name means the old run or the new one, whole.
      const Errno error = disk_.exchange(part_, target_);
      if (error != 0) return fail(target_, "replace the run folder in one step", error);
    }
    if (const Errno error = disk_.sync_folder(parent_of(target_))) {
      Diagnostic d = disk_fault(parent_of(target_), "write the folder to the disk", error);
      d.severity = Severity::warning;
      d.remedy = "the run is there, but a power cut now could lose it: check the disk";
      said_.push_back(std::move(d));
    }
    if (written_.replaced && remove_tree(disk_, part_) != 0) {
      said_.push_back(
          file_fault(part_, "disk-fault", "the replaced run could not be removed", "remove this folder"));
      said_.back().severity = Severity::warning;
    }
    return true;
  }

  std::string target_;
  const RunFolder& run_;
  Disk& disk_;
  std::string part_;
  std::unique_ptr<Lock> lock_;
  std::set<std::string> made_;
  WrittenRun written_;
  Diagnostics said_;
};

}  // namespace

Result<WrittenRun> write_run(const std::string& path, const RunFolder& run, bool force, Disk& disk) {
  return RunWriter(path, run, disk).write(force);
}

std::string unsafe_payload_reason(const std::string& path) {
  if (path.size() <= 5 || path.substr(0, 5) != "data/") return "it is not under data/";
  if (std::string reason = unsafe_path_reason(path); !reason.empty()) return reason;
  if (!std::all_of(path.begin(), path.end(), [](char ch) { return is_safe_char(ch) || ch == '/'; })) {
    return "it holds a character other than letters, digits, '.', '_' and '-'";
  }
  if (path.find("/.") != std::string::npos) return "a part of it starts with '.'";
  if (path.find("/-") != std::string::npos) return "a part of it starts with '-'";
  return {};
}

std::string payload_path_for(const std::string& folder, const std::string& original_name,
                             std::set<std::string>& taken) {
  constexpr std::size_t longest = 100;
  std::string name;
  for (const char ch : leaf_of(original_name)) name += is_safe_char(ch) ? ch : '_';
  if (name.size() > longest) name.erase(0, name.size() - longest);  // keeps the extension
  while (!name.empty() && (name.front() == '.' || name.front() == '-')) name.erase(0, 1);
  if (name.empty()) name = "file";
  const std::size_t dot = std::min(name.rfind('.'), name.size());
  std::string path = join(folder, name);
  for (unsigned n = 2; !taken.insert(lowered(path)).second; ++n) {
    path = join(folder, fmt::format("{}-{}{}", name.substr(0, dot), n, name.substr(dot)));
  }
  return path;
}

Errno is_sealed(Disk& disk, const std::string& run_folder, bool& sealed) {
  Seen seen;
  const std::string signatures = join(run_folder, "signatures");
  if (const Errno error = disk.look(signatures, seen)) return error;
  std::vector<std::string> names;
  if (seen.kind == Kind::folder) {
    if (const Errno error = disk.list(signatures, names)) return error;
  }
  sealed = !names.empty() || (seen.kind != Kind::none && seen.kind != Kind::folder);
  return 0;
}

}  // namespace vacuary::record
