// Disks for tests: one in memory that knows what a power cut may leave of it, and one that fails.
#pragma once

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <functional>
#include <map>
#include <memory>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "record/disk.hpp"

namespace testing_disk {

using namespace vacuary::record;

// A file system in memory. What was written but not synced is kept apart from what is safe:
//  - a file's bytes since its last sync may be lost, cut short at any length, or have become zeros;
//  - a change of names (create, make folder, rename, remove) is safe once a folder it touches is synced.
//    Of the others, any subset may be lost, so that later ones may be there and earlier ones not; a
//    rename happens as a whole or not at all.
// Syncing a file does not make its name safe. This is what POSIX promises, and less than common file
// systems do.
class MemoryDisk final : public Disk {
 public:
  MemoryDisk() { nodes_[root].folder = true; }

  // Called after every operation that changes something.
  std::function<void()> after_change;
  std::size_t changes = 0;

  // ------------------------------------------------------------ what a power cut leaves
  enum class Luck { everything_lost, everything_kept, random };
  [[nodiscard]] MemoryDisk after_power_cut(Luck luck, std::mt19937& dice) const {
    MemoryDisk left;
    left.nodes_ = nodes_;
    left.next_ = next_;
    for (auto& [id, node] : left.nodes_) node.entries = node.safe_entries;
    for (const Change& change : pending_) {
      const bool kept = luck == Luck::everything_kept || (luck == Luck::random && dice() % 2 == 0);
      if (kept) left.apply(change);
    }
    for (auto& [id, node] : left.nodes_) {
      if (!node.folder) node.bytes = left_of(node, luck, dice);
      node.safe_bytes = node.bytes;
      node.safe_entries = node.entries;
    }
    return left;
  }

  // ------------------------------------------------------------ Disk
  Errno look(const std::string& path, Seen& seen) override {
    seen = Seen{};
    const int id = find(path);
    if (id < 0) return 0;
    seen.kind = nodes_[id].folder ? Kind::folder : Kind::file;
    seen.size = nodes_[id].bytes.size();
    return 0;
  }
  Errno list(const std::string& folder, std::vector<std::string>& names) override {
    names.clear();
    const int id = find(folder);
    if (id < 0) return ENOENT;
    if (!nodes_[id].folder) return ENOTDIR;
    for (const auto& [name, child] : nodes_[id].entries) names.push_back(name);
    return 0;
  }
  Errno open(const std::string& path, std::unique_ptr<Reader>& reader) override {
    const int id = find(path);
    if (id < 0) return ENOENT;
    if (nodes_[id].folder) return EISDIR;
    reader = std::make_unique<MemoryReader>(nodes_[id].bytes);
    return 0;
  }
  Errno create(const std::string& path, std::unique_ptr<Writer>& writer) override {
    int id = -1;
    if (const Errno error = make(path, false, id)) return error;
    writer = std::make_unique<MemoryWriter>(*this, id);
    return 0;
  }
  Errno make_folder(const std::string& path) override {
    int id = -1;
    return make(path, true, id);
  }
  Errno sync_folder(const std::string& path) override {
    const int id = find(path);
    if (id < 0) return ENOENT;
    make_safe(id);
    changed();
    return 0;
  }
  Errno rename(const std::string& from, const std::string& to) override { return move(from, to, true); }
  Errno rename_new(const std::string& from, const std::string& to) override { return move(from, to, false); }
  Errno exchange(const std::string& a, const std::string& b) override {
    const int one = find(a), two = find(b);
    if (one < 0 || two < 0) return ENOENT;
    change({{find(parent_of(a)), leaf_of(a), two}, {find(parent_of(b)), leaf_of(b), one}});
    return 0;
  }
  Errno remove(const std::string& path) override {
    const int id = find(path);
    if (id < 0) return ENOENT;
    if (!nodes_[id].entries.empty()) return ENOTEMPTY;
    change({{find(parent_of(path)), leaf_of(path), none}});
    return 0;
  }
  Errno lock(const std::string& path, std::unique_ptr<Lock>& lock) override {
    if (find(path) < 0) return ENOENT;
    if (!locked_->insert(path).second) return EWOULDBLOCK;
    lock = std::make_unique<MemoryLock>(locked_, path);
    return 0;
  }

 private:
  static constexpr int root = 0;
  static constexpr int none = -1;

  struct Node {
    bool folder = false;
    std::string bytes, safe_bytes;
    std::map<std::string, int> entries, safe_entries;
  };
  struct Effect {
    int folder;
    std::string name;
    int node;  // none: the name goes
  };
  using Change = std::vector<Effect>;

  struct MemoryReader final : Reader {
    explicit MemoryReader(std::string all) : bytes(std::move(all)) {}
    Errno read(char* into, std::size_t room, std::size_t& got) override {
      got = bytes.copy(into, room, at);
      at += got;
      return 0;
    }
    std::string bytes;
    std::size_t at = 0;
  };
  struct MemoryWriter final : Writer {
    MemoryWriter(MemoryDisk& owner, int node) : disk(owner), id(node) {}
    Errno write(std::string_view bytes) override {
      disk.nodes_[id].bytes += bytes;
      disk.changed();
      return 0;
    }
    Errno sync() override {
      disk.nodes_[id].safe_bytes = disk.nodes_[id].bytes;
      disk.changed();
      return 0;
    }
    Errno close() override { return 0; }
    MemoryDisk& disk;
    int id;
  };
  struct MemoryLock final : Lock {
    MemoryLock(std::shared_ptr<std::set<std::string>> all, std::string path)
        : locked(std::move(all)), mine(std::move(path)) {}
    MemoryLock(const MemoryLock&) = delete;
    MemoryLock& operator=(const MemoryLock&) = delete;
    ~MemoryLock() override { locked->erase(mine); }
    std::shared_ptr<std::set<std::string>> locked;
    std::string mine;
  };

  static std::string left_of(const Node& node, Luck luck, std::mt19937& dice) {
    if (node.bytes == node.safe_bytes || luck == Luck::everything_kept) return node.bytes;
    if (luck == Luck::everything_lost) return node.safe_bytes;
    switch (dice() % 4) {
      case 0:
        return node.bytes;
      case 1:
        return node.safe_bytes;
      case 2:
        return node.bytes.substr(0, dice() % (node.bytes.size() + 1));
      default:
        return std::string(node.bytes.size(), '\0');  // the length was written, the blocks were not
    }
  }

  [[nodiscard]] int find(const std::string& path) const {
    int at = root;
    for (std::size_t start = 0; start < path.size();) {
      const std::size_t end = std::min(path.find('/', start), path.size());
      const std::string part = path.substr(start, end - start);
      start = end + 1;
      if (part.empty() || part == ".") continue;
      const auto& entries = nodes_.at(at).entries;
      const auto next = entries.find(part);
      if (next == entries.end()) return none;
      at = next->second;
    }
    return at;
  }

  Errno make(const std::string& path, bool folder, int& id) {
    const int parent = find(parent_of(path));
    if (parent < 0) return ENOENT;
    if (find(path) >= 0) return EEXIST;
    id = ++next_;
    nodes_[id].folder = folder;
    change({{parent, leaf_of(path), id}});
    return 0;
  }
  Errno move(const std::string& from, const std::string& to, bool replace) {
    const int id = find(from), parent = find(parent_of(to)), old = find(to);
    if (id < 0 || parent < 0) return ENOENT;
    if (old >= 0 && !replace) return EEXIST;
    if (old >= 0 && !nodes_[old].entries.empty()) return ENOTEMPTY;
    change({{find(parent_of(from)), leaf_of(from), none}, {parent, leaf_of(to), id}});
    return 0;
  }

  void apply(const Change& change) {
    for (const Effect& e : change) {
      if (e.node == none) {
        nodes_[e.folder].entries.erase(e.name);
      } else {
        nodes_[e.folder].entries[e.name] = e.node;
      }
    }
  }
  void change(const Change& change) {
    apply(change);
    pending_.push_back(change);
    changed();
  }
  void changed() {
    ++changes;
    if (after_change) after_change();
  }

  static bool share_a_name(const Change& a, const Change& b) {
    for (const Effect& x : a) {
      for (const Effect& y : b) {
        if (x.folder == y.folder && x.name == y.name) return true;
      }
    }
    return false;
  }
  // The pending changes that touch the folder become safe, with those before them on the same names.
  void make_safe(int folder) {
    std::vector<bool> chosen(pending_.size());
    for (std::size_t i = pending_.size(); i-- > 0;) {
      for (const Effect& e : pending_[i]) chosen[i] = chosen[i] || e.folder == folder;
      for (std::size_t later = i + 1; later < pending_.size(); ++later) {
        if (chosen[later] && share_a_name(pending_[i], pending_[later])) chosen[i] = true;
      }
    }
    std::vector<Change> rest;
    for (std::size_t i = 0; i < pending_.size(); ++i) {
      if (!chosen[i]) {
        rest.push_back(pending_[i]);
        continue;
      }
      for (const Effect& e : pending_[i]) {
        if (e.node == none) {
          nodes_[e.folder].safe_entries.erase(e.name);
        } else {
          nodes_[e.folder].safe_entries[e.name] = e.node;
        }
      }
    }
    pending_ = std::move(rest);
  }

  std::map<int, Node> nodes_;
  std::vector<Change> pending_;
  int next_ = root;
  std::shared_ptr<std::set<std::string>> locked_ = std::make_shared<std::set<std::string>>();
};

// Passes everything on to another disk, and fails at the `fail_at`-th operation (from 1): once, or from
// then on as a dead disk does. A failing write writes half of its bytes first, as a full disk does.
class FailingDisk final : public Disk {
 public:
  FailingDisk(Disk& disk, std::size_t fail_at, Errno error, bool for_good)
      : disk_(disk), fail_at_(fail_at), error_(error), for_good_(for_good) {}
  std::size_t operations = 0;

  Errno look(const std::string& path, Seen& seen) override {
    return fails() ? error_ : disk_.look(path, seen);
  }
  Errno list(const std::string& f, std::vector<std::string>& n) override {
    return fails() ? error_ : disk_.list(f, n);
  }
  Errno open(const std::string& path, std::unique_ptr<Reader>& reader) override {
    if (fails()) return error_;
    std::unique_ptr<Reader> inner;
    const Errno error = disk_.open(path, inner);
    if (error == 0) reader = std::make_unique<FailingReader>(*this, std::move(inner));
    return error;
  }
  Errno create(const std::string& path, std::unique_ptr<Writer>& writer) override {
    if (fails()) return error_;
    std::unique_ptr<Writer> inner;
    const Errno error = disk_.create(path, inner);
    if (error == 0) writer = std::make_unique<FailingWriter>(*this, std::move(inner));
    return error;
  }
  Errno make_folder(const std::string& path) override { return fails() ? error_ : disk_.make_folder(path); }
  Errno sync_folder(const std::string& path) override { return fails() ? error_ : disk_.sync_folder(path); }
  Errno rename(const std::string& a, const std::string& b) override {
    return fails() ? error_ : disk_.rename(a, b);
  }
  Errno rename_new(const std::string& a, const std::string& b) override {
    return fails() ? error_ : disk_.rename_new(a, b);
  }
  Errno exchange(const std::string& a, const std::string& b) override {
    return fails() ? error_ : disk_.exchange(a, b);
  }
  Errno remove(const std::string& path) override { return fails() ? error_ : disk_.remove(path); }
  Errno lock(const std::string& path, std::unique_ptr<Lock>& lock) override {
    return fails() ? error_ : disk_.lock(path, lock);
  }

 private:
  struct FailingReader final : Reader {
    FailingReader(FailingDisk& owner, std::unique_ptr<Reader> other) : disk(owner), inner(std::move(other)) {}
    Errno read(char* into, std::size_t room, std::size_t& got) override {
      return disk.fails() ? disk.error_ : inner->read(into, room, got);
    }
    FailingDisk& disk;
    std::unique_ptr<Reader> inner;
  };
  struct FailingWriter final : Writer {
    FailingWriter(FailingDisk& owner, std::unique_ptr<Writer> other) : disk(owner), inner(std::move(other)) {}
    Errno write(std::string_view bytes) override {
      if (!disk.fails()) return inner->write(bytes);
      (void)inner->write(bytes.substr(0, bytes.size() / 2));
      return disk.error_;
    }
    Errno sync() override { return disk.fails() ? disk.error_ : inner->sync(); }
    Errno close() override { return disk.fails() ? disk.error_ : inner->close(); }
    FailingDisk& disk;
    std::unique_ptr<Writer> inner;
  };

  bool fails() {
    ++operations;
    return operations == fail_at_ || (for_good_ && operations > fail_at_);
  }

  Disk& disk_;
  std::size_t fail_at_;
  Errno error_;
  bool for_good_;
};

// Copies a folder between disks.
inline void transfer(Disk& from, const std::string& source, Disk& to, const std::string& target) {
  std::vector<std::string> names;
  (void)to.make_folder(target);
  if (from.list(source, names) != 0) std::abort();
  for (const std::string& name : names) {
    Seen seen;
    (void)from.look(join(source, name), seen);
    if (seen.kind == Kind::folder) {
      transfer(from, join(source, name), to, join(target, name));
      continue;
    }
    std::string bytes;
    if (read_whole(from, join(source, name), std::size_t{1} << 24U, bytes) != 0) std::abort();
    if (write_new(to, join(target, name), bytes) != 0) std::abort();
  }
  (void)to.sync_folder(target);
  (void)to.sync_folder(parent_of(target));
}

}  // namespace testing_disk
