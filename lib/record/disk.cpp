#include "record/disk.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <system_error>

namespace vacuary::record {

Errno read_whole(Disk& disk, const std::string& path, std::size_t limit, std::string& bytes) {
  std::unique_ptr<Reader> reader;
  if (const Errno error = disk.open(path, reader)) return error;
  bytes.clear();
  std::array<char, 65536> buffer{};
  while (true) {
    std::size_t got = 0;
    if (const Errno error = reader->read(buffer.data(), buffer.size(), got)) return error;
    if (got == 0) return 0;
    if (bytes.size() + got > limit) return EFBIG;
    bytes.append(buffer.data(), got);
  }
}

Errno write_new(Disk& disk, const std::string& path, std::string_view bytes) {
  std::unique_ptr<Writer> writer;
  if (const Errno error = disk.create(path, writer)) return error;
  Errno error = writer->write(bytes);
  if (error == 0) error = writer->sync();
  if (error == 0) error = writer->close();
  return error;
}

Errno replace_file(Disk& disk, const std::string& path, std::string_view bytes) {
  const std::string folder = parent_of(path);
  const std::string part = join(folder, "." + leaf_of(path) + ".part");
  // Only a writer that died leaves one behind; callers hold a lock, so nobody else is writing it.
  Seen seen;
  if (const Errno error = disk.look(part, seen)) return error;
  if (seen.kind != Kind::none) {
    if (const Errno error = disk.remove(part)) return error;
  }
  Errno error = write_new(disk, part, bytes);
  if (error == 0) error = disk.rename(part, path);
  if (error != 0) {
    (void)disk.remove(part);
    return error;
  }
  return disk.sync_folder(folder);
}

Errno remove_tree(Disk& disk, const std::string& path) {
  Seen seen;
  if (const Errno error = disk.look(path, seen)) return error;
  if (seen.kind == Kind::none) return 0;
  Errno first = 0;
  if (seen.kind == Kind::folder) {
    std::vector<std::string> names;
    first = disk.list(path, names);
    for (const std::string& name : names) {
      const Errno error = remove_tree(disk, join(path, name));
      if (first == 0) first = error;
    }
  }
  const Errno error = disk.remove(path);
  return first != 0 ? first : error;
}

Errno sync_tree(Disk& disk, const std::string& path) {
  std::vector<std::string> names;
  if (const Errno error = disk.list(path, names)) return error;
  for (const std::string& name : names) {
    Seen seen;
    if (const Errno error = disk.look(join(path, name), seen)) return error;
    if (seen.kind != Kind::folder) continue;
    if (const Errno error = sync_tree(disk, join(path, name))) return error;
  }
  return disk.sync_folder(path);
}

Diagnostic disk_fault(const std::string& path, const std::string& doing, Errno error) {
  Diagnostic d;
  d.rule = "disk-fault";
  d.where = Place::whole_file(path);
  d.message = fmt::format("cannot {}: {}", doing, std::generic_category().message(error));
  switch (error) {
    case ENOSPC:
    case EDQUOT:
      d.remedy = "free some space and try again";
      break;
    case EACCES:
    case EPERM:
    case EROFS:
      d.remedy = "check the permissions of the folder and who you are logged in as";
      break;
    case ENOENT:
    case ENOTDIR:
      d.remedy = "check the name and the folder";
      break;
    case ELOOP:
      d.remedy = "this is a symbolic link; put the file itself here";
      break;
    default:
      d.remedy = "check the disk and try again";
  }
  return d;
}

std::string join(const std::string& folder, const std::string& name) {
  if (folder.empty()) return name;
  return folder.back() == '/' ? folder + name : folder + "/" + name;
}

std::string parent_of(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  if (slash == std::string::npos) return ".";
  return slash == 0 ? "/" : path.substr(0, slash);
}

std::string leaf_of(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  return slash == std::string::npos ? path : path.substr(slash + 1);
}

}  // namespace vacuary::record
