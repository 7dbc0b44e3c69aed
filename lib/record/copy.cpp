#include "record/copy.hpp"

#include "record/lines.hpp"

namespace vacuary::record {
namespace {

Errno copy_file(Disk& disk, const std::string& from, const std::string& to) {
  std::unique_ptr<Reader> reader;
  std::unique_ptr<Writer> writer;
  if (const Errno error = disk.open(from, reader)) return error;
  if (const Errno error = disk.create(to, writer)) return error;
  std::string buffer(std::size_t{256} << 10U, '\0');
  while (true) {
    std::size_t got = 0;
    if (const Errno error = reader->read(buffer.data(), buffer.size(), got)) return error;
    if (got == 0) break;
    if (const Errno error = writer->write({buffer.data(), got})) return error;
  }
  if (const Errno error = writer->sync()) return error;
  return writer->close();
}

}  // namespace

Diagnostics copy_tree(Disk& disk, const std::string& from, const std::string& to) {
  std::vector<std::string> names;
  if (const Errno error = disk.list(from, names)) return {disk_fault(from, "list the folder", error)};
  if (const Errno error = disk.make_folder(to)) return {disk_fault(to, "make the folder", error)};
  for (const std::string& name : names) {
    const std::string source = join(from, name);
    Seen seen;
    if (const Errno error = disk.look(source, seen)) return {disk_fault(source, "look at the file", error)};
    if (seen.kind == Kind::folder) {
      if (Diagnostics said = copy_tree(disk, source, join(to, name)); !said.empty()) return said;
    } else if (seen.kind == Kind::file) {
      if (const Errno error = copy_file(disk, source, join(to, name)))
        return {disk_fault(source, "copy the file", error)};
    } else {
      return {file_fault(source, seen.kind == Kind::link ? "link-in-bag" : "odd-file-in-bag",
                         "this is a link, a device or a pipe; a run folder holds only files",
                         "put the file itself here")};
    }
  }
  return {};
}

}  // namespace vacuary::record
