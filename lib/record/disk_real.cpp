#include <dirent.h>
#include <fcntl.h>
#include <linux/fs.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <utility>

#include "record/disk.hpp"

namespace vacuary::record {
namespace {

class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  [[nodiscard]] int get() const { return fd_; }
  [[nodiscard]] Errno close() { return ::close(std::exchange(fd_, -1)) == 0 ? 0 : errno; }

 private:
  int fd_;
};

class RealReader final : public Reader {
 public:
  explicit RealReader(int fd) : fd_(fd) {}
  Errno read(char* into, std::size_t room, std::size_t& got) override {
    while (true) {
      const ssize_t n = ::read(fd_.get(), into, room);
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return errno;
      got = static_cast<std::size_t>(n);
      return 0;
    }
  }

 private:
  Descriptor fd_;
};

class RealWriter final : public Writer {
 public:
  explicit RealWriter(int fd) : fd_(fd) {}
  Errno write(std::string_view bytes) override {
    while (!bytes.empty()) {
      const ssize_t n = ::write(fd_.get(), bytes.data(), bytes.size());
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return errno;
      bytes.remove_prefix(static_cast<std::size_t>(n));
    }
    return 0;
  }
  Errno sync() override { return ::fsync(fd_.get()) == 0 ? 0 : errno; }
  Errno close() override { return fd_.close(); }

 private:
  Descriptor fd_;
};

class RealLock final : public Lock {
 public:
  explicit RealLock(int fd) : fd_(fd) {}

 private:
  Descriptor fd_;  // closing it gives the lock back, also when the process dies
};

class RealDisk final : public Disk {
 public:
  Errno look(const std::string& path, Seen& seen) override {
    struct stat status {};
    seen = Seen{};
    if (::lstat(path.c_str(), &status) != 0) return errno == ENOENT || errno == ENOTDIR ? 0 : errno;
    seen.kind = S_ISREG(status.st_mode)   ? Kind::file
                : S_ISDIR(status.st_mode) ? Kind::folder
                : S_ISLNK(status.st_mode) ? Kind::link
                                          : Kind::other;
    seen.size = static_cast<std::uint64_t>(status.st_size);
    return 0;
  }

  Errno list(const std::string& folder, std::vector<std::string>& names) override {
    names.clear();
    DIR* open_folder = ::opendir(folder.c_str());
    if (open_folder == nullptr) return errno;
    errno = 0;
    while (const dirent* entry = ::readdir(open_folder)) {
      std::string name = static_cast<const char*>(entry->d_name);
      if (name != "." && name != "..") names.push_back(std::move(name));
      errno = 0;
    }
    const Errno error = errno;
    ::closedir(open_folder);
    std::sort(names.begin(), names.end());
    return error;
  }

  Errno open(const std::string& path, std::unique_ptr<Reader>& reader) override {
    // O_NONBLOCK: a pipe put in a file's place must not hang the program.
    const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0) return errno;
    reader = std::make_unique<RealReader>(fd);
    struct stat status {};
    if (::fstat(fd, &status) != 0) return errno;
    if (S_ISDIR(status.st_mode)) return EISDIR;
    return S_ISREG(status.st_mode) ? 0 : EINVAL;
  }

  Errno create(const std::string& path, std::unique_ptr<Writer>& writer) override {
    const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0666);
    if (fd < 0) return errno;
    writer = std::make_unique<RealWriter>(fd);
    return 0;
  }

  Errno make_folder(const std::string& path) override { return ::mkdir(path.c_str(), 0777) == 0 ? 0 : errno; }

  Errno sync_folder(const std::string& path) override {
    const Descriptor fd(::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    return fd.get() >= 0 && ::fsync(fd.get()) == 0 ? 0 : errno;
  }

  Errno rename(const std::string& from, const std::string& to) override {
    return ::rename(from.c_str(), to.c_str()) == 0 ? 0 : errno;
  }

  Errno rename_new(const std::string& from, const std::string& to) override {
    const Errno error = renamed(from, to, RENAME_NOREPLACE);
    if (error != EINVAL && error != ENOSYS) return error;
    // Some network disks cannot do it in one step; callers hold a lock or use names of their own.
    Seen seen;
    if (const Errno unseen = look(to, seen)) return unseen;
    return seen.kind != Kind::none ? EEXIST : rename(from, to);
  }

  Errno exchange(const std::string& a, const std::string& b) override {
    return renamed(a, b, RENAME_EXCHANGE);
  }

  Errno remove(const std::string& path) override { return ::remove(path.c_str()) == 0 ? 0 : errno; }

  Errno lock(const std::string& path, std::unique_ptr<Lock>& lock) override {
    const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0) return errno;
    auto held = std::make_unique<RealLock>(fd);
    if (::flock(fd, LOCK_EX | LOCK_NB) != 0) return errno;
    lock = std::move(held);
    return 0;
  }

 private:
  static Errno renamed(const std::string& from, const std::string& to, unsigned int how) {
    return ::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), how) == 0 ? 0 : errno;
  }
};

}  // namespace

Disk& real_disk() {
  static RealDisk disk;
  return disk;
}

}  // namespace vacuary::record
