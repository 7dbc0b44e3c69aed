#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <map>
#include <set>

#include "record/bag.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

const char* const intact_copy = "take an intact copy from a backup, and find out what happened to this one";

bool same_label(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](unsigned char x, unsigned char y) { return std::tolower(x) == std::tolower(y); });
}

struct Expected {
  Algorithm algorithm;
  std::string checksum;
  std::string manifest;
};

struct Manifest {
  std::string file;
  ManifestOf of = ManifestOf::payload;
  std::vector<ManifestLine> lines;
};

class Verifier {
 public:
  Verifier(std::string folder, Disk& disk, bool payload)
      : folder_(std::move(folder)), disk_(disk), payload_(payload) {}

  Result<Bag> run() {
    walk("", 0);
    if (!read_declaration()) return std::move(said_);
    read_manifests();
    compare_lists();
    read_fetch();
    hash_all();
    read_info();
    fill();
    return {std::move(bag_), std::move(said_)};
  }

 private:
  void say(const std::string& file, const char* rule, std::string message, std::string remedy = intact_copy,
           Severity severity = Severity::error) {
    constexpr std::size_t most_of_a_kind = 200;  // a hostile manifest can name a million missing files
    const std::size_t times = ++said_times_[rule];
    if (times > most_of_a_kind + 1) return;
    if (times == most_of_a_kind + 1) message = "and more of the same, which are not listed";
    said_.push_back(file_fault(join(folder_, file), rule, std::move(message), std::move(remedy)));
    said_.back().severity = severity;
  }
  void take(const Diagnostics& more) { said_.insert(said_.end(), more.begin(), more.end()); }

  void walk(const std::string& below, unsigned depth) {
    constexpr unsigned deepest = 32;
    constexpr std::size_t most = 1'000'000;
    std::vector<std::string> names;
    const std::string here = below.empty() ? folder_ : join(folder_, below);
    if (const Errno error = disk_.list(here, names)) {
      said_.push_back(disk_fault(here, "list the folder", error));
      return;
    }
    for (const std::string& name : names) {
      const std::string path = join(below, name);
      if (files_.size() >= most || depth >= deepest) {
        say(path, "odd-file-in-bag", "the bag has more than a million files or more than 32 folder levels",
            "");
        return;
      }
      Seen seen;
      if (const Errno error = disk_.look(join(folder_, path), seen)) {
        said_.push_back(disk_fault(join(folder_, path), "look at the file", error));
      } else if (seen.kind == Kind::folder) {
        folders_.insert(path);
        walk(path, depth + 1);
      } else if (seen.kind == Kind::file) {
        files_[path] = seen.size;
      } else if (seen.kind == Kind::link) {
        say(path, "link-in-bag",
            "this is a symbolic link; a bag holds only files, or what it points to could change",
            "put the file itself here and make the bag again");
      } else {
        say(path, "odd-file-in-bag", "this is a device or a pipe; a bag holds only files", "remove it");
      }
    }
  }

  // The bytes of a tag file; says why not and returns false when they cannot be had.
  bool read_tag(const std::string& path, std::string& bytes) {
    const Errno error = read_whole(disk_, join(folder_, path), largest_tag_file, bytes);
    if (error != 0) said_.push_back(disk_fault(join(folder_, path), "read the file", error));
    return error == 0;
  }

  bool read_text(const std::string& path, std::string& text) {
    std::string bytes;
    if (!read_tag(path, bytes)) return false;
    Result<std::string> decoded = decode_text(join(folder_, path), bytes, bag_.declaration.encoding);
    take(decoded.diagnostics());
    if (decoded.has_value()) text = std::move(decoded).value();
    return decoded.has_value();
  }

  bool read_declaration() {
    if (files_.count("bagit.txt") == 0) {
      say("bagit.txt", "bag-declaration", "there is no file bagit.txt here, so this is not a bag",
          "name the folder that holds bagit.txt");
      return false;
    }
    std::string bytes;
    if (!read_tag("bagit.txt", bytes)) return false;
    Result<BagDeclaration> declaration = parse_declaration(join(folder_, "bagit.txt"), bytes);
    take(declaration.diagnostics());
    // What is wrong with the rest is worth knowing all the same; UTF-8 is what everybody uses.
    bag_.declaration = declaration.has_value() ? std::move(declaration).value() : BagDeclaration{"", "UTF-8"};
    if (folders_.count("data") == 0)
      say("data", "bag-without-payload", "there is no folder data/ in this bag");
    return true;
  }

  void read_manifests() {
    for (const auto& [path, size] : files_) {
      const bool tags = path.rfind("tagmanifest-", 0) == 0;
      const bool payload = path.rfind("manifest-", 0) == 0;
      if ((!tags && !payload) || path.size() < 5 || path.substr(path.size() - 4) != ".txt") continue;
      const std::size_t dash = path.find('-') + 1;
      const auto algorithm = algorithm_of(std::string_view(path).substr(dash, path.size() - 4 - dash));
      if (!algorithm) {
        say(path, "weak-checksum", "this manifest uses a checksum that is not known here, so it was not used",
            "", Severity::warning);
        continue;
      }
      read_manifest(path, *algorithm, tags ? ManifestOf::tags : ManifestOf::payload);
    }
    if (bag_.algorithms.empty()) {
      say("", "bag-without-manifest",
          "there is no payload manifest that can be used, so nothing proves the payload");
    } else if (std::none_of(bag_.algorithms.begin(), bag_.algorithms.end(), is_strong)) {
      say("", "weak-checksum",
          "the only checksums are MD5 or SHA-1: they show accidents, but anybody can forge a file that fits "
          "them",
          "", Severity::warning);
    }
  }

  void read_manifest(const std::string& path, Algorithm algorithm, ManifestOf of) {
    std::string text;
    if (!read_text(path, text)) return;
    Result<std::vector<ManifestLine>> lines = parse_manifest(join(folder_, path), text, algorithm, of);
    take(lines.diagnostics());
    if (of == ManifestOf::payload) bag_.algorithms.push_back(algorithm);
    for (const ManifestLine& line : lines.value()) {
      expected_[line.path].push_back({algorithm, line.checksum, path});
    }
    manifests_.push_back({path, of, std::move(lines).value()});
  }

  void compare_lists() {
    for (const Manifest& manifest : manifests_) {
      std::set<std::string_view> listed;
      const bool payload = manifest.of == ManifestOf::payload;
      for (const ManifestLine& line : manifest.lines) {
        listed.insert(line.path);
        if (files_.count(line.path) == 0) {
          say(line.path, payload ? "payload-missing" : "tag-file-missing",
              fmt::format("the file is listed in {}, but it is not there", manifest.file));
        } else if (!payload && line.path.rfind("tagmanifest-", 0) == 0) {
          say(manifest.file, "manifest-line", "a tag manifest must not list a tag manifest");
        }
      }
      for (const auto& [path, size] : files_) {
        const bool wanted = payload ? path.rfind("data/", 0) == 0 : path.rfind("manifest-", 0) == 0;
        if (wanted && listed.count(path) == 0) {
          say(path, "payload-unlisted",
              fmt::format("the file is there, but {} does not list it", manifest.file),
              "somebody added it after the bag was made: remove it, or make a new bag");
        }
      }
    }
    warn_of_look_alikes();
  }

  void warn_of_look_alikes() {
    std::map<std::string, std::string> folded;
    for (const auto& [path, size] : files_) {
      std::string key = path;
      std::transform(key.begin(), key.end(), key.begin(),
                     [](unsigned char ch) { return static_cast<char>(std::tolower(ch)); });
      const auto [at, fresh] = folded.emplace(key, path);
      if (!fresh) {
        say(path, "look-alike-name",
            fmt::format("the name differs from '{}' only in case; some systems keep only one of them",
                        at->second),
            "rename one and make the bag again", Severity::warning);
      }
    }
  }

  void read_fetch() {
    std::string text;
    if (files_.count("fetch.txt") == 0 || !read_text("fetch.txt", text)) return;
    const Result<std::vector<FetchLine>> fetches = parse_fetch(join(folder_, "fetch.txt"), text);
    take(fetches.diagnostics());
    for (const FetchLine& fetch : fetches.value()) {
      if (expected_.count(fetch.path) == 0) {
        say("fetch.txt", "manifest-line",
            fmt::format("'{}' is to be fetched, but no manifest lists it", fetch.path));
      } else if (files_.count(fetch.path) == 0) {
        say(fetch.path, "not-fetched", "the payload is still to be fetched from an address in fetch.txt",
            "fetch it with the tool that made the bag; nothing is fetched from the network here");
      }
    }
  }

  void hash_all() {
    for (const auto& [path, wanted] : expected_) {
      if (files_.count(path) == 0) continue;
      if (payload_ || path.rfind("data/", 0) != 0) {
        hash_one(path, wanted);
      } else {
        for (const Expected& e : wanted) {
          if (e.algorithm == Algorithm::sha256) sha256_[path] = e.checksum;
        }
      }
    }
  }

  void hash_one(const std::string& path, const std::vector<Expected>& wanted) {
    std::vector<Hasher> hashers;
    for (const Expected& e : wanted) hashers.emplace_back(e.algorithm);
    if (const Errno error = hash_stream(path, hashers)) {
      said_.push_back(disk_fault(join(folder_, path), "read the file", error));
      return;
    }
    const bool payload = path.rfind("data/", 0) == 0;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
      const std::string checksum = hashers[i].hex();
      if (wanted[i].algorithm == Algorithm::sha256) sha256_[path] = checksum;
      if (checksum == wanted[i].checksum) continue;
      say(path, payload ? "payload-changed" : "tag-file-changed",
          fmt::format("the file's {} is {}, but {} says {}: it was changed after the bag was made",
                      name(wanted[i].algorithm), checksum, wanted[i].manifest, wanted[i].checksum));
    }
  }

  Errno hash_stream(const std::string& path, std::vector<Hasher>& hashers) {
    std::unique_ptr<Reader> reader;
    if (const Errno error = disk_.open(join(folder_, path), reader)) return error;
    buffer_.resize(std::size_t{256} << 10U);
    std::uint64_t octets = 0;
    while (true) {
      std::size_t got = 0;
      if (const Errno error = reader->read(buffer_.data(), buffer_.size(), got)) return error;
      if (got == 0) break;
      octets += got;
      for (Hasher& hasher : hashers) hasher.add({buffer_.data(), got});
    }
    files_[path] = octets;  // as hashed, not as seen before
    return 0;
  }

  void read_info() {
    std::string text;
    if (files_.count("bag-info.txt") == 0 || !read_text("bag-info.txt", text)) return;
    Result<Info> info = parse_info(join(folder_, "bag-info.txt"), text);
    take(info.diagnostics());
    bag_.info = std::move(info).value();
  }

  void fill() {
    std::uint64_t count = 0;
    for (const auto& [path, size] : files_) {
      if (path.rfind("data/", 0) != 0) {
        if (expected_.count(path) == 0 && path.rfind("tagmanifest-", 0) != 0) bag_.unproved.push_back(path);
        continue;
      }
      bag_.octets += size;
      ++count;
      const auto hash = sha256_.find(path);
      bag_.files.push_back({path, size, hash == sha256_.end() ? "" : hash->second});
    }
    check_oxum(count);
    std::string bytes;
    if (files_.count("tagmanifest-sha256.txt") != 0 && read_tag("tagmanifest-sha256.txt", bytes)) {
      bag_.tagmanifest_sha256 = sha256_hex(bytes);
    }
  }

  void check_oxum(std::uint64_t count) {
    const std::string expected = fmt::format("{}.{}", bag_.octets, count);
    unsigned times = 0;
    for (const auto& [label, value] : bag_.info) {
      if (!same_label(label, "Payload-Oxum")) continue;
      if (++times > 1) say("bag-info.txt", "payload-oxum", "Payload-Oxum stands here more than once");
      if (value != expected) {
        say("bag-info.txt", "payload-oxum",
            fmt::format("Payload-Oxum says {}, the payload has {} (bytes, then files)", value, expected));
      }
    }
  }

  std::string folder_;
  Disk& disk_;
  bool payload_;
  Bag bag_;
  Diagnostics said_;
  std::map<std::string, std::size_t> said_times_;
  std::map<std::string, std::uint64_t> files_;
  std::set<std::string> folders_;
  std::vector<Manifest> manifests_;
  std::map<std::string, std::vector<Expected>> expected_;
  std::map<std::string, std::string> sha256_;
  std::string buffer_;
};

}  // namespace

std::string Bag::about(std::string_view label) const {
  for (const auto& [key, value] : info) {
    if (same_label(key, label)) return value;
  }
  return {};
}

std::vector<std::string> Bag::all_about(std::string_view label) const {
  std::vector<std::string> values;
  for (const auto& [key, value] : info) {
    if (same_label(key, label)) values.push_back(value);
  }
  return values;
}

Result<Bag> verify_bag(const std::string& folder, Disk& disk) { return Verifier(folder, disk, true).run(); }

Result<Bag> survey_bag(const std::string& folder, Disk& disk) { return Verifier(folder, disk, false).run(); }

}  // namespace vacuary::record
