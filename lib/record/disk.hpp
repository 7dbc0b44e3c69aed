// The disk behind a small interface, so that tests can take it away: a real one, one in memory that
// records what was not yet synced and replays power cuts, and one that fails on demand.
//
// Every function returns 0 or the errno value that says why not. Nothing follows a symbolic link in
// the last part of a path. Durability is the caller's work, as with POSIX: a file's bytes are safe
// after Writer::sync(), its name after sync_folder() of the folder that holds it.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/diagnostic.hpp"

namespace vacuary::record {

using Errno = int;  // 0: done

enum class Kind { none, file, folder, link, other };

struct Seen {
  Kind kind = Kind::none;
  std::uint64_t size = 0;  // of a file, bytes
};

class Reader {
 public:
  virtual ~Reader() = default;
  // Up to `room` bytes into `into`; `got` == 0 at the end of the file.
  [[nodiscard]] virtual Errno read(char* into, std::size_t room, std::size_t& got) = 0;
};

class Writer {
 public:
  virtual ~Writer() = default;
  [[nodiscard]] virtual Errno write(std::string_view bytes) = 0;  // all of them, or an error
  [[nodiscard]] virtual Errno sync() = 0;
  [[nodiscard]] virtual Errno close() = 0;  // a network disk says only here that bytes were lost
};

// Held until destroyed.
class Lock {
 public:
  virtual ~Lock() = default;
};

class Disk {
 public:
  virtual ~Disk() = default;

  // A path that names nothing is Kind::none and no error.
  [[nodiscard]] virtual Errno look(const std::string& path, Seen& seen) = 0;
  [[nodiscard]] virtual Errno list(const std::string& folder, std::vector<std::string>& names) = 0;  // sorted
  [[nodiscard]] virtual Errno open(const std::string& path, std::unique_ptr<Reader>& reader) = 0;

  [[nodiscard]] virtual Errno create(const std::string& path,
                                     std::unique_ptr<Writer>& writer) = 0;  // must be new
  [[nodiscard]] virtual Errno make_folder(const std::string& path) = 0;     // must be new
  [[nodiscard]] virtual Errno sync_folder(const std::string& path) = 0;
  // Replaces a file, or an empty folder, at `to` in one step.
  [[nodiscard]] virtual Errno rename(const std::string& from, const std::string& to) = 0;
  // EEXIST when `to` is there.
  [[nodiscard]] virtual Errno rename_new(const std::string& from, const std::string& to) = 0;
  // Swaps two names in one step; EINVAL or ENOSYS where the file system cannot.
  [[nodiscard]] virtual Errno exchange(const std::string& a, const std::string& b) = 0;
  [[nodiscard]] virtual Errno remove(const std::string& path) = 0;  // a file, a link or an empty folder

  // An exclusive lock on a file or folder that is there. EWOULDBLOCK when somebody else holds it.
  [[nodiscard]] virtual Errno lock(const std::string& path, std::unique_ptr<Lock>& lock) = 0;
};

// The disk of this computer. One object serves all threads.
[[nodiscard]] Disk& real_disk();

// What most callers want of a disk.
[[nodiscard]] Errno read_whole(Disk& disk, const std::string& path, std::size_t limit, std::string& bytes);
// Creates, writes and syncs `path`, which must be new. Its name is safe only after sync_folder.
[[nodiscard]] Errno write_new(Disk& disk, const std::string& path, std::string_view bytes);
// Writes beside `path` (hidden, ending in ".part"), syncs, renames over it and syncs the folder.
[[nodiscard]] Errno replace_file(Disk& disk, const std::string& path, std::string_view bytes);
// Removes a folder and all in it, following no link. Goes on after an error and returns the first.
Errno remove_tree(Disk& disk, const std::string& path);
// Syncs a folder and all folders in it, the deepest first.
[[nodiscard]] Errno sync_tree(Disk& disk, const std::string& path);

// "cannot DOING: reason", with a remedy fitting the reason.
[[nodiscard]] Diagnostic disk_fault(const std::string& path, const std::string& doing, Errno error);

[[nodiscard]] std::string join(const std::string& folder, const std::string& name);
[[nodiscard]] std::string parent_of(const std::string& path);  // "." when there is none
[[nodiscard]] std::string leaf_of(const std::string& path);

}  // namespace vacuary::record
