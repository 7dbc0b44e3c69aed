#include <doctest/doctest.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "base/base.hpp"

using namespace vacuary;
namespace fs = std::filesystem;

namespace {

class Folder {
 public:
  Folder() {
    std::string pattern = (fs::temp_directory_path() / "vacuary-base-XXXXXX").string();
    REQUIRE(::mkdtemp(pattern.data()) != nullptr);
    path_ = pattern;
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  [[nodiscard]] fs::path operator/(const char* name) const { return path_ / name; }
  [[nodiscard]] fs::path path() const { return path_; }
  fs::path put(const char* name, const std::string& bytes) const {
    std::ofstream(path_ / name, std::ios::binary) << bytes;
    return path_ / name;
  }
  [[nodiscard]] std::size_t entries() const {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(path_), fs::directory_iterator{}));
  }

 private:
  fs::path path_;
};

std::string get(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

template <class T>
std::string message(const Result<T>& result) {
  CHECK_FALSE(result.has_value());
  REQUIRE(result.diagnostics().size() == 1);
  CHECK_FALSE(result.diagnostics().front().remedy.empty());
  return result.diagnostics().front().message;
}

}  // namespace

TEST_CASE("read_file: what is there, and why not") {
  const Folder folder;
  CHECK(read_file(folder.put("a", "bytes\0more"), 100).value() == "bytes");
  CHECK(read_file(folder.put("empty", ""), 100).value().empty());
  CHECK(read_file(folder.put("b", std::string(100, 'x')), 100).value().size() == 100);
  CHECK(message(read_file(folder.put("c", std::string(101, 'x')), 100)) ==
        "the file is longer than 100 bytes");
  CHECK(message(read_file(folder / "missing", 100)) == "cannot open the file: No such file or directory");
  CHECK(message(read_file(folder.path(), 100)) == "this is a directory, a file was expected");
  CHECK(message(read_file(folder / "a/b", 100)) == "cannot open the file: Not a directory");
  CHECK(message(read_file("/dev/null", 100)) == "this is a device or a pipe, a regular file was expected");
  REQUIRE(::mkfifo((folder / "pipe").c_str(), 0600) == 0);
  CHECK(message(read_file(folder / "pipe", 100)) ==
        "this is a device or a pipe, a regular file was expected");
  if (::geteuid() != 0) {  // root may read everything
    fs::permissions(folder / "a", fs::perms::none);
    CHECK(message(read_file(folder / "a", 100)) == "cannot open the file: Permission denied");
  }
  const auto missing = read_file(folder / "missing", 100);
  CHECK(to_text(missing.diagnostics().front()) ==
        (folder / "missing").string() +
            ": error: cannot open the file: No such file or directory [unreadable-file]\n"
            "    remedy: check the name and the folder\n");
}

TEST_CASE("read_source: text, and where it is none") {
  const Folder folder;
  const auto bom = read_source(folder.put("bom", "\xEF\xBB\xBFx"));
  REQUIRE(bom.has_value());
  CHECK(bom.value()->bytes() == "\xEF\xBB\xBFx");  // hashes are over bytes
  CHECK(bom.value()->name() == (folder / "bom").string());
  CHECK(read_source(folder.put("empty", "")).has_value());
  const auto latin = read_source(folder.put("latin", "a\nb\xE9 = 1\n"));
  CHECK(message(latin) == "byte 0xE9 is not UTF-8 text");
  CHECK(latin.diagnostics().front().where->line == 2);
  CHECK(latin.diagnostics().front().where->column == 2);
  CHECK(message(read_source(folder.put("nul", std::string("a\0b", 3)))) ==
        "the file holds NUL bytes: it is not text, or it is UTF-16");
  CHECK(message(read_source(folder.put("utf16", std::string("\xFF\xFE"
                                                            "a\0",
                                                            4)))) == "byte 0xFF is not UTF-8 text");
  CHECK(message(read_source(folder.put("big", std::string(largest_plan_file + 1, ' ')))) ==
        "the file is longer than 4194304 bytes");
}

TEST_CASE("write_file: the old or the new, and nothing left beside it") {
  const Folder folder;
  const fs::path path = folder / "out";
  CHECK(write_file(path, "one", false).value() == path);
  CHECK(get(path) == "one");
  const auto refused = write_file(path, "two", false);
  CHECK(message(refused) == "the file exists already");
  CHECK(refused.diagnostics().front().rule == "would-overwrite");
  CHECK(get(path) == "one");
  CHECK(write_file(path, "", true).has_value());
  CHECK(get(path).empty());
  CHECK(write_file(path, std::string(1 << 20, 'x'), true).has_value());
  CHECK(fs::file_size(path) == 1U << 20U);
  CHECK(folder.entries() == 1);
  CHECK(message(write_file(folder / "no/such", "x", false)) ==
        "cannot create a file here: No such file or directory");
  CHECK(message(write_file(folder / "out/in", "x", false)) == "cannot create a file here: Not a directory");
  fs::create_directory(folder / "taken");
  CHECK_FALSE(write_file(folder / "taken", "x", true).has_value());
  CHECK_FALSE(write_file(folder / "taken", "x", false).has_value());
  CHECK(folder.entries() == 2);
  const mode_t mask = ::umask(027);
  CHECK(write_file(folder / "masked", "x", false).has_value());
  ::umask(mask);
  CHECK((fs::status(folder / "masked").permissions() & fs::perms::all) == fs::perms(0640));
}

TEST_CASE("write_file refuses to write through a dangling link unless told to replace it") {
  const Folder folder;
  fs::create_symlink(folder / "elsewhere", folder / "link");
  CHECK(message(write_file(folder / "link", "x", false)) == "the file exists already");
  CHECK_FALSE(fs::exists(folder / "elsewhere"));
  CHECK(write_file(folder / "link", "x", true).has_value());
  CHECK_FALSE(fs::is_symlink(folder / "link"));
}

TEST_CASE("UTF-8 as RFC 3629 has it") {
  const std::size_t good = std::string_view::npos;
  // Examples of RFC 3629 section 7.
  CHECK(first_invalid_utf8("A\xE2\x89\xA2\xCE\x91.") == good);
  CHECK(first_invalid_utf8("\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4") == good);
  CHECK(first_invalid_utf8("\xE6\x97\xA5\xE6\x9C\xAC\xE8\xAA\x9E") == good);
  CHECK(first_invalid_utf8("\xEF\xBB\xBF\xF0\xA3\x8E\xB4") == good);
  CHECK(first_invalid_utf8("") == good);
  CHECK(first_invalid_utf8("\xF4\x8F\xBF\xBF") == good);  // U+10FFFF
  CHECK(first_invalid_utf8("a\xF4\x90\x80\x80") == 1);    // past it
  CHECK(first_invalid_utf8("\xC0\x80") == 0);             // overlong: section 3
  CHECK(first_invalid_utf8("\xE0\x9F\xBF") == 0);
  CHECK(first_invalid_utf8("\xF0\x8F\xBF\xBF") == 0);
  CHECK(first_invalid_utf8("\xED\xA0\x80") == 0);  // a surrogate
  CHECK(first_invalid_utf8("ab\xE2\x82") == 2);    // cut off
  CHECK(first_invalid_utf8("ab\x80") == 2);
  CHECK(first_invalid_utf8("\xFE") == 0);
}

TEST_CASE("a source finds its bytes from line and column and back") {
  const Source source("s",
                      "\xEF\xBB\xBF"
                      "ab\r\n\u00FCx\n\nlast");
  CHECK(source.offset_of(1, 1) == 3);
  CHECK(source.offset_of(2, 2) == 9);
  CHECK(source.place(9).line == 2);
  CHECK(source.place(9).column == 2);
  CHECK(source.place(9).line_text == "\u00FCx");
  CHECK(source.offset_of(2, 99) == 10);  // the end of that line
  CHECK(source.offset_of(4, 5) == source.bytes().size());
  CHECK(source.offset_of(99, 1) == source.bytes().size());
  CHECK(source.place(0).column == 1);
  for (std::size_t offset = 3; offset < source.bytes().size(); ++offset) {
    if ((static_cast<unsigned char>(source.bytes()[offset]) & 0xC0U) == 0x80U) continue;
    if (source.bytes()[offset] == '\n' && source.bytes()[offset - 1] == '\r') continue;  // one end of line
    const Place place = source.place(offset);
    CHECK(source.offset_of(place.line, place.column) == offset);
  }
  const auto kept = std::make_shared<const Source>("s", "abc def");
  const Region region{kept, 4, 3};
  CHECK(region.part(1, 99).offset == 5);
  CHECK(region.part(1, 99).length == 2);
  CHECK(region.part(9, 1).length == 0);
  CHECK(region.place()->column == 5);
  CHECK_FALSE(Region{}.place().has_value());
}
