#include "log/bytes.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <utility>
#include <vector>

#include "base/utf8.hpp"
#include "log/compressed.hpp"
#include "log/head.hpp"
#include "log/turned.hpp"

namespace vacuary::log {
namespace {

class FileBytes final : public ByteStream {
 public:
  FileBytes(std::filesystem::path path, int fd, Received received)
      : path_(std::move(path)), fd_(fd), received_(std::move(received)) {}
  FileBytes(const FileBytes&) = delete;
  FileBytes& operator=(const FileBytes&) = delete;
  ~FileBytes() override { ::close(fd_); }

  std::size_t read(char* out, std::size_t size) override {
    std::size_t got = 0;
    while (got < size && !failure_) {
      const ssize_t n = ::read(fd_, out + got, size - got);
      if (n > 0) {
        got += static_cast<std::size_t>(n);
      } else if (n == 0) {
        break;
      } else if (errno != EINTR) {
        failure_ = log_failure(path_, fmt::format("reading stopped: {}", std::strerror(errno)),
                               "check the disk; what was read up to here is reported");
      }
    }
    if (received_ && got > 0) received_(path_, {out, got});
    return got;
  }
  [[nodiscard]] const std::optional<Diagnostic>& failure() const override { return failure_; }

 private:
  std::filesystem::path path_;
  int fd_;
  Received received_;
  std::optional<Diagnostic> failure_;
};

// A few bytes that were looked at, then the rest.
class Prefixed final : public ByteStream {
 public:
  Prefixed(std::string prefix, std::unique_ptr<ByteStream> rest)
      : prefix_(std::move(prefix)), rest_(std::move(rest)) {}

  std::size_t read(char* out, std::size_t size) override {
    const std::size_t n = std::min(size, prefix_.size() - used_);
    std::memcpy(out, prefix_.data() + used_, n);
    used_ += n;
    return n + (n < size ? rest_->read(out + n, size - n) : 0);
  }
  [[nodiscard]] const std::optional<Diagnostic>& failure() const override { return rest_->failure(); }

 private:
  std::string prefix_;
  std::size_t used_ = 0;
  std::unique_ptr<ByteStream> rest_;
};

// Another encoding to UTF-8, piece by piece. `convert` turns what it can of `in` into `out` and
// returns how many bytes it used; `last` says that nothing follows.
class Converted : public ByteStream {
 public:
  explicit Converted(std::unique_ptr<ByteStream> from) : from_(std::move(from)) {}

  std::size_t read(char* out, std::size_t size) override {
    std::size_t got = 0;
    while (got < size) {
      if (used_ == text_.size() && !refill()) break;
      const std::size_t n = std::min(size - got, text_.size() - used_);
      std::memcpy(out + got, text_.data() + used_, n);
      used_ += n;
      got += n;
    }
    return got;
  }
  [[nodiscard]] const std::optional<Diagnostic>& failure() const override { return from_->failure(); }
  [[nodiscard]] LineRange turned() const override { return from_->turned(); }

 protected:
  virtual std::size_t convert(const std::string& in, bool last, std::string& out) = 0;

 private:
  bool refill() {
    constexpr std::size_t piece = 65536;
    text_.clear();
    used_ = 0;
    while (text_.empty() && !ended_) {
      const std::size_t kept = raw_.size();
      raw_.resize(kept + piece);
      const std::size_t n = from_->read(raw_.data() + kept, piece);
      raw_.resize(kept + n);
      ended_ = n < piece;
      raw_.erase(0, convert(raw_, ended_, text_));
    }
    return !text_.empty();
  }

  std::unique_ptr<ByteStream> from_;
  std::string raw_, text_;
  std::size_t used_ = 0;
  bool ended_ = false;
};

class Latin1 final : public Converted {
 public:
  using Converted::Converted;

 protected:
  std::size_t convert(const std::string& in, bool /*last*/, std::string& out) override {
    for (const char c : in) append_utf8(out, static_cast<unsigned char>(c));
    return in.size();
  }
};

class Utf16 final : public Converted {
 public:
  Utf16(std::unique_ptr<ByteStream> from, bool big_endian)
      : Converted(std::move(from)), big_endian_(big_endian) {}

 protected:
  std::size_t convert(const std::string& in, bool last, std::string& out) override {
    std::size_t i = 0;
    while (i + 2 <= in.size()) {
      const std::uint32_t first = at(in, i);
      if (first < 0xD800 || first > 0xDFFF) {
        append_utf8(out, first);
        i += 2;
        continue;
      }
      if (i + 4 > in.size() && !last) return i;
      const std::uint32_t second = i + 4 <= in.size() ? at(in, i + 2) : 0;
      const bool pair = first < 0xDC00 && second >= 0xDC00 && second <= 0xDFFF;
      append_utf8(out, pair ? 0x10000 + ((first - 0xD800) << 10U) + (second - 0xDC00) : replacement);
      i += pair ? 4 : 2;
    }
    if (last && i < in.size()) {
      append_utf8(out, replacement);
      i = in.size();
    }
    return i;
  }

 private:
  static constexpr std::uint32_t replacement = 0xFFFD;
  [[nodiscard]] std::uint32_t at(const std::string& in, std::size_t i) const {
    const auto a = static_cast<unsigned char>(in[i]);
    const auto b = static_cast<unsigned char>(in[i + 1]);
    return big_endian_ ? static_cast<std::uint32_t>(a) << 8U | b : static_cast<std::uint32_t>(b) << 8U | a;
  }
  bool big_endian_;
};

// See TextForm::blanks.
class Tabs {
 public:
  explicit Tabs(const TextForm& form) : form_(form), blanks_(form.blanks) {}

  // A line had a cell for every column, so that it is known where these stand.
  [[nodiscard]] bool has_seen_all() const { return !columns_.empty() && columns_.front().seen; }
  // Another has read the same text and more of it.
  void learn_from(const Tabs& other) { known_ = other.aligned_ ? other.columns_ : other.first_seen_; }

  // `last`: nothing follows.
  void convert(std::string_view in, bool last, std::string& out) {
    for (const char c : in) {
      if (ends_line(c)) {
        end_line(out);
        out.push_back(c);
        if (c == '\r' || !after_return_) ++lines_;
        after_return_ = c == '\r';
        continue;
      }
      after_return_ = false;
      if ((static_cast<unsigned char>(c) & 0xC0U) != 0x80) ++column_;
      if (quoted_) {
        line_.push_back(c);
        cells_.back().to = column_;
        quoted_ = c != '"';
        closed_ = c == '"';
      } else if (c == ' ' || c == '\t') {
        run_ += c == ' ' ? 1 : blanks_;
        tabbed_ = tabbed_ || c == '\t';
        in_place_ = in_place_ && c == ' ';
      } else {
        take(c);
      }
      if (line_.size() > longest_placed) {
        out += line_;
        line_.clear();
        in_place_ = false;
        too_long_ = true;
      }
    }
    if (last) out += line_;
  }

 private:
  // On the line, in characters, and where it begins in line_.
  struct Cell {
    std::size_t from, to, at;
  };
  // As wide as its name and its cells, and the edges at which cells of whole lines stand, as long as all do:
  // the left one of texts, the right one of numbers.
  struct Column {
    std::size_t from, to;
    std::size_t left = 0, right = 0;
    bool seen = false, left_holds = true, right_holds = true;
    [[nodiscard]] bool shares(const Cell& cell) const { return from < cell.to && cell.from < to; }
    // Sharing is not enough: a cell that is too wide for its column pushes those behind it along.
    [[nodiscard]] bool fits(const Cell& cell) const {
      if (!seen) return false;  // names may be spaced otherwise than cells
      if (cell.from < from || cell.to > to) return false;
      if (!left_holds && !right_holds) return true;
      return (left_holds && cell.from == left) || (right_holds && cell.to == right);
    }
    void take(const Cell& cell) {
      if (!seen) {
        seen = true;
        left = cell.from;
        right = cell.to;
      }
      left_holds = left_holds && cell.from == left;
      right_holds = right_holds && cell.to == right;
    }
  };
  static constexpr std::size_t longest_placed = std::size_t{64} << 10U;

  static bool ends_line(char c) { return c == '\n' || c == '\r'; }
  static bool is_bracket(char c) { return c == '[' || c == '('; }

  void take(char c) {
    const bool at_start = cells_.empty();
    if (at_start) marked_ = form_.comment != '\0' && c == form_.comment;
    if (at_start) brackets_part_ = is_bracket(c);
    // The mark before the first name is none.
    const bool behind_mark =
        columns_.empty() && line_.size() == 1 && (line_[0] == '#' || line_[0] == form_.comment);
    const bool together = behind_mark || (blanks_ == 1 && !tabbed_ && !brackets_part_ && is_bracket(c));
    const bool parted = run_ >= blanks_ && !together;
    const bool begins = at_start || (run_ > 0 && parted);
    if (!at_start && run_ > 0) line_.push_back(begins ? '\t' : ' ');
    if (at_start || (begins && in_place_)) cells_.push_back({column_ - 1, column_, line_.size()});
    cells_.back().to = column_;
    quoted_ = c == '"' && (begins || (closed_ && run_ == 0));
    closed_ = false;
    run_ = 0;
    tabbed_ = false;
    line_.push_back(c);
  }

  void end_line(std::string& out) {
    const bool header = columns_.empty() && !too_long_ && !is_comment(line_, form_);
    if (cells_.empty() || (marked_ && !header)) {
      // It says nothing of the columns.
    } else if (!columns_.empty()) {
      put_in_place();
    } else if (lines_ >= form_.preamble_lines) {  // the header
      for (const Cell& cell : cells_) columns_.push_back({cell.from, cell.to});
      if (known_.size() == columns_.size()) columns_ = known_;
      aligned_ = in_place_;
    }
    out += line_;
    line_.clear();
    cells_.clear();
    column_ = run_ = 0;
    in_place_ = true;
    tabbed_ = false;
    quoted_ = closed_ = marked_ = too_long_ = false;
  }

  // Where columns stand under each other, a line with fewer cells than the header shows by their places whose
  // they are: an empty cell for each that has none.
  void put_in_place() {
    if (blanks_ < 2 || !aligned_ || !in_place_ || cells_.size() > columns_.size()) return;
    const bool whole = cells_.size() == columns_.size();
    if (whole && one_is_parted()) {
      line_.insert(line_.begin(), '\t');  // too many cells: it is told
      return;
    }
    std::vector<std::size_t> whose;
    for (const Cell& cell : cells_) {
      if (whole) {
        whose.push_back(whose.size());
        continue;
      }
      const auto first = std::find_if(columns_.begin(), columns_.end(),
                                      [&](const Column& column) { return column.shares(cell); });
      const auto column = static_cast<std::size_t>(first - columns_.begin());
      const bool one = first != columns_.end() && (first + 1 == columns_.end() || !first[1].shares(cell));
      if (!one || !first->fits(cell) || (!whose.empty() && column <= whose.back())) return;
      whose.push_back(column);
    }
    widen_columns(whose, whole);
    if (whole && first_seen_.empty()) first_seen_ = columns_;
    if (!whole && aligned_) fill_empty(whose);
  }

  // Of as many cells as there are columns one may be a text with two blanks, and another missing: a cell
  // stands under another's name, and a later one where it should. (Behind one that is too wide none does.)
  [[nodiscard]] bool one_is_parted() const {
    bool astray = false;
    for (std::size_t k = 0; k < cells_.size(); ++k) {
      const auto shares = [&](const Column& column) { return column.shares(cells_[k]); };
      if (astray && shares(columns_[k]) && columns_[k].fits(cells_[k])) return true;
      astray = astray || (!shares(columns_[k]) && std::any_of(columns_.begin(), columns_.end(), shares));
    }
    return false;
  }

  // When two columns meet, places say nothing any more.
  void widen_columns(const std::vector<std::size_t>& whose, bool whole) {
    for (std::size_t k = 0; k < cells_.size(); ++k) {
      Column& column = columns_[whose[k]];
      column.from = std::min(column.from, cells_[k].from);
      column.to = std::max(column.to, cells_[k].to);
      if (whole) column.take(cells_[k]);
    }
    for (std::size_t c = 1; c < columns_.size(); ++c)
      aligned_ = aligned_ && columns_[c - 1].to < columns_[c].from;
  }

  void fill_empty(const std::vector<std::size_t>& whose) {
    std::string placed;
    std::size_t column = 0;
    for (std::size_t k = 0; k < cells_.size(); ++k) {
      const std::size_t end = k + 1 < cells_.size() ? cells_[k + 1].at - 1 : line_.size();
      placed.append(whose[k] - column, '\t');
      column = whose[k];
      placed.append(line_, cells_[k].at, end - cells_[k].at);
    }
    placed.append(columns_.size() - 1 - column, '\t');
    line_ = std::move(placed);
  }

  TextForm form_;
  unsigned blanks_;
  bool marked_ = false;    // the line begins with the comment mark
  bool too_long_ = false;  // a part of it is out already
  bool tabbed_ = false;
  std::string line_;         // as it will be, so far
  std::vector<Cell> cells_;  // the line's, as long as places are known
  std::vector<Column> columns_, first_seen_, known_;
  std::uint64_t lines_ = 0;
  std::size_t column_ = 0, run_ = 0;  // characters of the line; blanks before here
  bool in_place_ = true;              // every place on the line is known
  bool aligned_ = true;               // so far no two columns meet
  bool brackets_part_ = false;
  bool quoted_ = false, closed_ = false;  // in a quoted cell; just behind one
  bool after_return_ = false;
};

class BlanksParted final : public Converted {
 public:
  BlanksParted(std::unique_ptr<ByteStream> from, const TextForm& form)
      : Converted(std::move(from)), tabs_(form), ahead_(form), looks_ahead_(form.blanks > 1) {}

 protected:
  // Lines with cells missing may come long before the first that has all.
  std::size_t convert(const std::string& in, bool last, std::string& out) override {
    constexpr std::size_t furthest = std::size_t{8} << 20U;
    if (looks_ahead_) {
      std::string unused;
      ahead_.convert(std::string_view(in).substr(looked_), last, unused);
      looked_ = in.size();
      if (!last && !ahead_.has_seen_all() && in.size() < furthest) return 0;
      tabs_.learn_from(ahead_);
      looks_ahead_ = false;
    }
    tabs_.convert(in, last, out);
    return in.size();
  }

 private:
  Tabs tabs_, ahead_;
  bool looks_ahead_;
  std::size_t looked_ = 0;
};

// Where a quoted cell cannot go on in the next line, a mark that its line does not close opens none: a blank
// before it, and it is an ordinary character (record.hpp).
class QuotesWithinLines final : public Converted {
 public:
  QuotesWithinLines(std::unique_ptr<ByteStream> from, char delimiter)
      : Converted(std::move(from)), delimiter_(delimiter) {}

 protected:
  std::size_t convert(const std::string& in, bool last, std::string& out) override {
    constexpr std::size_t longest = std::size_t{2} << 20U;
    std::size_t from = 0;
    while (from < in.size()) {
      const std::size_t end = in.find_first_of("\r\n", from);
      if (end == std::string::npos && !last && in.size() - from < longest) break;
      const std::size_t to = std::min(end, in.size());
      const std::size_t opens = unclosed(std::string_view(in).substr(from, to - from));
      out.append(in, from, opens);
      if (opens < to - from) out.push_back(' ');
      out.append(in, from + opens, to - from - opens);
      if (end != std::string::npos) out.push_back(in[end]);
      from = end == std::string::npos ? in.size() : end + 1;
    }
    return from;
  }

 private:
  [[nodiscard]] bool parts(char c) const {
    if (delimiter_ != '\0') return c == delimiter_;
    return std::find(known_delimiters.begin(), known_delimiters.end(), c) != known_delimiters.end();
  }
  // Where the quotation mark stands that opens a cell and is not closed; behind the line: there is none.
  [[nodiscard]] std::size_t unclosed(std::string_view line) const {
    bool at_start = true;
    for (std::size_t i = 0; i < line.size(); ++i) {
      if (at_start && line[i] == '"') {
        std::size_t close = line.find('"', i + 1);
        while (close != std::string_view::npos && close + 1 < line.size() && line[close + 1] == '"')
          close = line.find('"', close + 2);
        if (close == std::string_view::npos) return i;
        i = close;
        at_start = false;
        continue;
      }
      at_start = parts(line[i]);
    }
    return line.size();
  }
  char delimiter_;
};

Result<std::unique_ptr<ByteStream>> open_file(const std::filesystem::path& path, const Received& received) {
  // O_NONBLOCK: a pipe given by mistake must not hang the program before we can see what it is.
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0) {
    const int error = errno;
    return log_failure(path, fmt::format("cannot open the log: {}", std::strerror(error)),
                       error == ENOENT ? "check the name and the folder" : "check its permissions");
  }
  auto file = std::make_unique<FileBytes>(path, fd, received);
  struct stat status {};
  if (::fstat(fd, &status) != 0) {
    return log_failure(path, fmt::format("cannot look at the log: {}", std::strerror(errno)), "");
  }
  if (S_ISDIR(status.st_mode)) {
    return log_failure(path, "this is a directory, a log file was expected", "name the file inside it");
  }
  if (!S_ISREG(status.st_mode)) {
    return log_failure(path, "this is a device or a pipe, a log file was expected",
                       "save it as a file first");
  }
#ifdef POSIX_FADV_SEQUENTIAL
  ::posix_fadvise(fd, 0, 0, POSIX_FADV_SEQUENTIAL);
#endif
  return std::unique_ptr<ByteStream>(std::move(file));
}

// Takes up to `size` bytes from the front of `stream` and puts them back.
std::string peek(std::unique_ptr<ByteStream>& stream, std::size_t size) {
  std::string head(size, '\0');
  head.resize(stream->read(head.data(), size));
  stream = std::make_unique<Prefixed>(head, std::move(stream));
  return head;
}

void skip(ByteStream& stream, std::size_t size) {
  std::array<char, 4> sink{};
  stream.read(sink.data(), size);
}

Result<std::unique_ptr<ByteStream>> open_decoded(const std::filesystem::path& path,
                                                 const std::string& encoding, std::uint64_t limit,
                                                 const Received& received) {
  auto opened = open_file(path, received);
  if (!opened.ok()) return opened;
  std::unique_ptr<ByteStream> stream = std::move(opened).value();
  std::string head = peek(stream, 4);
  if (stream->failure()) return *stream->failure();
  if (head.starts_with("\x1F\x8B")) {
    stream = gunzip(path, std::move(stream), limit);
    head = peek(stream, 4);
  } else if (head == "\x28\xB5\x2F\xFD") {
    stream = unzstd(path, std::move(stream), limit);
    head = peek(stream, 4);
  }
  if (stream->failure()) return *stream->failure();
  if (head.starts_with("\xEF\xBB\xBF")) {
    skip(*stream, 3);
    return stream;
  }
  const bool little = head.starts_with("\xFF\xFE");
  const bool big = head.starts_with("\xFE\xFF");
  if (little || big) skip(*stream, 2);
  if (little || big || encoding.starts_with("utf-16")) {
    // Without a mark: text begins with letters, whose upper byte is zero.
    const bool guess_big = encoding == "utf-16be" || (encoding == "utf-16" && head.starts_with('\0'));
    stream = std::make_unique<Utf16>(std::move(stream), big || (!little && guess_big));
  } else if (encoding == "latin-1") {
    stream = std::make_unique<Latin1>(std::move(stream));
  } else if (encoding != "utf-8") {
    return log_failure(path, fmt::format("the encoding '{}' is not known", encoding),
                       "use utf-8, utf-16 or latin-1");
  }
  return stream;
}

}  // namespace

Diagnostic log_failure(const std::filesystem::path& path, std::string message, std::string remedy,
                       std::string rule) {
  Diagnostic d;
  d.rule = std::move(rule);
  d.where = Place::whole_file(path.string());
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

Result<std::unique_ptr<ByteStream>> open_bytes(const std::filesystem::path& path, const TextForm& form,
                                               std::uint64_t limit, const Received& received) {
  auto stream = open_decoded(path, form.encoding, limit, received);
  if (!stream.ok()) return stream;
  std::unique_ptr<ByteStream> text = std::move(stream).value();
  if (form.newest_first) text = turn_round(path, std::move(text), form);
  if (form.blanks > 0) text = std::make_unique<BlanksParted>(std::move(text), form);
  if (form.blanks > 0 || form.newest_first)
    text = std::make_unique<QuotesWithinLines>(std::move(text), form.blanks > 0 ? '\t' : form.delimiter);
  return text;
}

std::string tabs_for_blanks(std::string_view text, const TextForm& form) {
  std::string out;
  Tabs ahead(form), tabs(form);
  ahead.convert(text, true, out);
  out.clear();
  tabs.learn_from(ahead);
  tabs.convert(text, true, out);
  return out;
}

}  // namespace vacuary::log
