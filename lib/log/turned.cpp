#include "log/turned.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "log/head.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t piece = std::size_t{64} << 10U;

// A file without a name, or null: see errno.
std::FILE* nameless_file() {
  std::error_code error;
  const std::filesystem::path folder = std::filesystem::temp_directory_path(error);
  if (error) {
    errno = error.value();
    return nullptr;
  }
  std::string name = (folder / "vacuary-XXXXXX").string();
  const int fd = ::mkstemp(name.data());
  if (fd < 0) return nullptr;
  ::unlink(name.c_str());
  std::FILE* file = ::fdopen(fd, "w+");
  if (file == nullptr) ::close(fd);
  return file;
}

// Text put aside in a file, to be read from anywhere.
class Aside {
 public:
  Aside() : file_(nameless_file(), &std::fclose) {}

  // False: see errno.
  [[nodiscard]] bool append(const char* text, std::size_t size) {
    size_ += size;
    return file_ && std::fwrite(text, 1, size, file_.get()) == size;
  }
  [[nodiscard]] bool ready() { return file_ && std::fflush(file_.get()) == 0; }
  [[nodiscard]] std::uint64_t size() const { return size_; }
  // Something could not be read again; blanks stand for it.
  [[nodiscard]] bool lost() const { return lost_; }

  [[nodiscard]] char at(std::uint64_t place) {
    if (place < from_ || place >= from_ + held_.size()) {
      // What is wanted next lies further in the direction in which this place was left.
      const std::uint64_t end = place < from_ ? place + 1 : std::min<std::uint64_t>(size_, place + piece);
      from_ = place < from_ ? end - std::min<std::uint64_t>(end, piece) : place;
      held_.resize(static_cast<std::size_t>(end - from_));
      read_at(held_.data(), held_.size(), from_);
    }
    return held_[static_cast<std::size_t>(place - from_)];
  }
  void copy(std::uint64_t from, char* out, std::size_t size) {
    if (from >= from_ && from + size <= from_ + held_.size()) {
      std::memcpy(out, held_.data() + (from - from_), size);
    } else {
      read_at(out, size, from);
    }
  }

 private:
  void read_at(char* out, std::size_t size, std::uint64_t from) {
    std::size_t got = 0;
    while (got < size) {
      const ssize_t n = ::pread(::fileno(file_.get()), out + got, size - got, static_cast<off_t>(from + got));
      if (n > 0) got += static_cast<std::size_t>(n);
      if (n == 0 || (n < 0 && errno != EINTR)) break;
    }
    lost_ = lost_ || got < size;
    std::fill(out + got, out + size, ' ');
  }

  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file_;
  std::uint64_t size_ = 0, from_ = 0;
  std::vector<char> held_;
  bool lost_ = false;
};

class Turned final : public ByteStream {
 public:
  Turned(std::filesystem::path path, std::unique_ptr<ByteStream> from, const TextForm& form)
      : path_(std::move(path)) {
    std::vector<char> text(piece);
    for (std::size_t n = piece; n == piece && !failure_;) {
      n = from->read(text.data(), piece);
      if (!aside_.append(text.data(), n)) cannot_keep();
      count_lines({text.data(), n});
    }
    if (!failure_ && !aside_.ready()) cannot_keep();
    if (failure_) return;
    failure_ = from->failure();
    find_rows(form);
    next_ = 0;
    end_ = head_end_;
  }

  std::size_t read(char* out, std::size_t size) override {
    std::size_t got = 0;
    while (got < size && (next_ < end_ || next_part())) {
      const auto n = static_cast<std::size_t>(std::min<std::uint64_t>(size - got, end_ - next_));
      aside_.copy(next_, out + got, n);
      next_ += n;
      got += n;
      // A carriage return alone must not become one line end with a line feed that comes behind it now.
      if (n > 0 && next_ == end_ && out[got - 1] == '\r') out[got - 1] = '\n';
    }
    if (aside_.lost() && !failure_) {
      failure_ =
          log_failure(path_, "the copy of the log that was put aside to turn it round could not be read",
                      "look at the disk of the folder for temporary files, and run again");
    }
    return got;
  }
  [[nodiscard]] const std::optional<Diagnostic>& failure() const override { return failure_; }
  [[nodiscard]] LineRange turned() const override { return turned_; }

 private:
  void cannot_keep() {
    behind_ = true;  // nothing can be read
    failure_ =
        log_failure(path_,
                    fmt::format("the log is newest first, and to turn it round it must be put into the "
                                "folder for temporary files: {}",
                                std::strerror(errno)),
                    "make room there, or name another folder in TMPDIR");
  }

  static bool is_break(char c) { return c == '\n' || c == '\r'; }
  void count_lines(std::string_view text) {
    for (const char c : text) {
      if (c == '\r' || (c == '\n' && last_ != '\r')) ++lines_;
      last_ = c;
    }
  }
  // Behind the line that begins at `from`.
  [[nodiscard]] std::uint64_t line_end(std::uint64_t from, bool& blank) {
    blank = true;
    std::uint64_t at = from;
    for (; at < aside_.size() && !is_break(aside_.at(at)); ++at)
      blank = blank && (aside_.at(at) == ' ' || aside_.at(at) == '\t');
    if (at == aside_.size()) return at;
    const bool after_return = aside_.at(at++) == '\r';
    return at + (after_return && at < aside_.size() && aside_.at(at) == '\n' ? 1 : 0);
  }
  // Where the line begins that ends before `end`.
  [[nodiscard]] std::uint64_t line_start(std::uint64_t end) {
    std::uint64_t at = end;
    if (at > head_end_ && aside_.at(at - 1) == '\n') --at;
    if (at > head_end_ && aside_.at(at - 1) == '\r') --at;
    while (at > head_end_ && !is_break(aside_.at(at - 1))) --at;
    return at;
  }

  // No header is longer.
  [[nodiscard]] std::string text_at(std::uint64_t from, std::uint64_t end) {
    std::string out(static_cast<std::size_t>(std::min<std::uint64_t>(end - from, std::uint64_t{1} << 20U)),
                    ' ');
    aside_.copy(from, out.data(), out.size());
    out.resize(std::min(out.find_first_of("\r\n"), out.size()));
    return out;
  }

  void find_rows(const TextForm& form) {
    std::uint64_t line = 0;
    bool blank = false;
    for (; line < form.preamble_lines && head_end_ < aside_.size(); ++line)
      head_end_ = line_end(head_end_, blank);
    TextForm alone = form;  // one line by itself
    alone.preamble_lines = 0;
    for (unsigned wanted = form.units_line ? 2 : 1; wanted > 0 && head_end_ < aside_.size(); ++line) {
      const std::uint64_t from = std::exchange(head_end_, line_end(head_end_, blank));
      if (blank) continue;
      const std::string text = text_at(from, head_end_);
      if (!is_comment(form.blanks > 0 ? tabs_for_blanks(text, alone) : text, form)) --wanted;
    }
    rows_end_ = aside_.size();
    const bool cut = rows_end_ > head_end_ && !is_break(last_);
    if (cut) {
      rows_end_ = line_start(rows_end_);
      static_cast<void>(line_end(rows_end_, blank));
    }
    turned_ = {line + 1, lines_};
    for (unsigned footer = cut && !blank ? 1 : 0; footer < form.footer_lines && rows_end_ > head_end_;
         --turned_.last) {
      rows_end_ = line_start(rows_end_);
      static_cast<void>(line_end(rows_end_, blank));
      if (!blank) ++footer;
    }
    row_end_ = rows_end_;
  }

  // The next stretch that is read forward: a row, then what is behind them all.
  bool next_part() {
    if (row_end_ > head_end_) {
      end_ = row_end_;
      next_ = row_end_ = line_start(row_end_);
      return true;
    }
    if (behind_) return false;
    behind_ = true;
    next_ = rows_end_;
    end_ = aside_.size();
    return next_ < end_;
  }

  std::filesystem::path path_;
  Aside aside_;
  std::uint64_t lines_ = 0;  // that end
  char last_ = '\n';
  std::uint64_t head_end_ = 0, rows_end_ = 0;
  std::uint64_t row_end_ = 0;  // of the row that comes next
  std::uint64_t next_ = 0, end_ = 0;
  bool behind_ = false;
  LineRange turned_;
  std::optional<Diagnostic> failure_;
};

}  // namespace

std::unique_ptr<ByteStream> turn_round(const std::filesystem::path& path, std::unique_ptr<ByteStream> from,
                                       const TextForm& form) {
  return std::make_unique<Turned>(path, std::move(from), form);
}

}  // namespace vacuary::log
