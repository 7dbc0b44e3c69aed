#include "base/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

namespace vacuary {
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
  // False when the last write could not be delivered (a network disk says so only here).
  [[nodiscard]] bool close() { return ::close(std::exchange(fd_, -1)) == 0; }

 private:
  int fd_;
};

Diagnostic failure(const std::filesystem::path& path, std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = "unreadable-file";
  d.where = Place::whole_file(path.string());
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

Diagnostic write_failure(const std::filesystem::path& path, const char* doing, int error) {
  Diagnostic d = failure(path, fmt::format("cannot {}: {}", doing, std::strerror(error)),
                         "check the folder, its permissions and the free space; nothing was changed");
  d.rule = "unwritable-file";
  return d;
}

bool write_all(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::write(fd, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

bool sync_folder(const std::filesystem::path& folder) {
  const Descriptor fd(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  return fd.get() >= 0 && ::fsync(fd.get()) == 0;
}

}  // namespace

Result<std::string> read_file(const std::filesystem::path& path, std::size_t limit) {
  // O_NONBLOCK: a pipe given by mistake must not hang the program before we can see what it is.
  const Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (fd.get() < 0) {
    const int error = errno;
    return failure(path, fmt::format("cannot open the file: {}", std::strerror(error)),
                   error == ENOENT ? "check the name and the folder" : "check its permissions");
  }
  struct stat status {};
  if (::fstat(fd.get(), &status) != 0) {
    return failure(path, fmt::format("cannot look at the file: {}", std::strerror(errno)), "");
  }
  if (S_ISDIR(status.st_mode)) {
    return failure(path, "this is a directory, a file was expected", "name the file inside it");
  }
  if (!S_ISREG(status.st_mode)) {
    return failure(path, "this is a device or a pipe, a regular file was expected",
                   "save it to a file first: its bytes go into the record");
  }
  std::string bytes;
  const auto too_long = [&] {
    return failure(path, fmt::format("the file is longer than {} bytes", limit),
                   "is this the right file? A plan file is written by a person");
  };
  if (static_cast<std::uint64_t>(status.st_size) > limit) return too_long();
  bytes.resize(static_cast<std::size_t>(status.st_size) + 1);
  std::size_t used = 0;
  while (true) {
    if (used == bytes.size()) bytes.resize(bytes.size() * 2);
    const ssize_t n = ::read(fd.get(), bytes.data() + used, bytes.size() - used);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) {
      return failure(path, fmt::format("cannot read the file: {}", std::strerror(errno)), "check the disk");
    }
    if (n == 0) break;
    used += static_cast<std::size_t>(n);
    if (used > limit) return too_long();
  }
  bytes.resize(used);
  return bytes;
}

Result<std::shared_ptr<const Source>> read_source(const std::filesystem::path& path, std::size_t limit) {
  Result<std::string> bytes = read_file(path, limit);
  if (!bytes.has_value()) return bytes.diagnostics();
  auto source = std::make_shared<const Source>(path.string(), std::move(bytes).value());
  const std::string& text = source->bytes();
  const std::size_t invalid = first_invalid_utf8(text);
  const std::size_t nul = text.find('\0');
  if (invalid == std::string::npos && nul == std::string::npos) return source;
  Diagnostic d;
  d.rule = "unreadable-file";
  const std::size_t at = std::min(invalid, nul);
  d.where = source->place(at);
  d.message = fmt::format("byte 0x{:02X} is not UTF-8 text", static_cast<unsigned char>(text[at]));
  d.remedy = "save the file as UTF-8";
  if (nul < invalid) {
    d.where = Place::whole_file(path.string());
    d.message = "the file holds NUL bytes: it is not text, or it is UTF-16";
  }
  return d;
}

Result<std::filesystem::path> write_file(const std::filesystem::path& path, std::string_view bytes,
                                         bool overwrite) {
  const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : ".";
  const std::string temporary = (folder / ".vacuary-XXXXXX").string();
  std::string made = temporary;
  Descriptor fd(::mkostemp(made.data(), O_CLOEXEC));
  if (fd.get() < 0) return write_failure(path, "create a file here", errno);
  const auto fail = [&](const char* doing, int error) {
    ::unlink(made.c_str());
    return write_failure(path, doing, error);
  };
  const mode_t mask = ::umask(0);
  ::umask(mask);
  if (::fchmod(fd.get(), 0666 & ~mask) != 0) return fail("set the file's permissions", errno);
  if (!write_all(fd.get(), bytes)) return fail("write the file", errno);
  if (::fsync(fd.get()) != 0) return fail("write the file to the disk", errno);
  if (!fd.close()) return fail("write the file to the disk", errno);
  if (overwrite) {
    if (::rename(made.c_str(), path.c_str()) != 0) return fail("put the file in place", errno);
  } else {
    // link() refuses an existing name, so nobody's file can be lost between a look and a rename.
    if (::link(made.c_str(), path.c_str()) != 0) {
      const int error = errno;
      if (error == EEXIST) {
        ::unlink(made.c_str());
        Diagnostic d =
            failure(path, "the file exists already", "name another file, or add --force to replace it");
        d.rule = "would-overwrite";
        return d;
      }
      return fail("put the file in place", error);
    }
    ::unlink(made.c_str());
  }
  if (!sync_folder(folder)) {
    Diagnostic d = write_failure(path, "write the folder to the disk", errno);
    d.remedy = "the file is in place, but a power cut could still lose it: check the disk";
    return d;
  }
  return path;
}

std::size_t first_invalid_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto byte = [&](std::size_t k) -> unsigned {
      return i + k < text.size() ? static_cast<unsigned char>(text[i + k]) : 0U;
    };
    const auto continues = [&](std::size_t k) { return (byte(k) & 0xC0U) == 0x80U; };
    const unsigned lead = byte(0);
    if (lead < 0x80) {
      i += 1;
    } else if (lead >= 0xC2 && lead <= 0xDF && continues(1)) {
      i += 2;
    } else if ((lead & 0xF0U) == 0xE0 && continues(1) && continues(2) && !(lead == 0xE0 && byte(1) < 0xA0) &&
               !(lead == 0xED && byte(1) > 0x9F)) {
      i += 3;
    } else if (lead >= 0xF0 && lead <= 0xF4 && continues(1) && continues(2) && continues(3) &&
               !(lead == 0xF0 && byte(1) < 0x90) && !(lead == 0xF4 && byte(1) > 0x8F)) {
      i += 4;
    } else {
      return i;
    }
  }
  return std::string_view::npos;
}

}  // namespace vacuary
