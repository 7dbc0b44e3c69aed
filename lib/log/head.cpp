#include "log/head.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "log/layout.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t piece = std::size_t{64} << 10U;

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t") == std::string_view::npos; }

bool is_control(char byte) {
  const auto c = static_cast<unsigned char>(byte);
  return c < 0x09 || (c > 0x0D && c < 0x20 && c != 0x1A && c != 0x1B);
}

// Control characters in the first line, or more of them than damage to a text explains: the first.
std::size_t first_binary(std::string_view text) {
  const std::size_t line = text.find_first_of("\r\n");
  std::size_t first = std::string_view::npos;
  std::size_t found = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (!is_control(text[i])) continue;
    if (i < line) return i;
    if (found++ == 0) first = i;
  }
  return found * 100 > text.size() ? first : std::string_view::npos;
}

}  // namespace

bool Head::read_more() {
  if (ended_) return false;
  const std::size_t kept = text_.size();
  text_.resize(kept + piece);
  const std::size_t n = bytes_->read(text_.data() + kept, piece);
  text_.resize(kept + n);
  ended_ = n < piece;
  return n > 0;
}

std::optional<Diagnostic> Head::start() {
  read_more();
  if (bytes_->failure() && text_.empty()) return *bytes_->failure();
  if (text_.empty()) {
    return log_failure(path_, "the log is empty", "check that the export was finished and copied",
                       empty_log_rule);
  }
  const std::size_t binary = first_binary(std::string_view(text_).substr(0, 4096));
  if (binary != std::string::npos) {
    return log_failure(path_,
                       fmt::format("this is not a text file: byte {} is the control character 0x{:02X}",
                                   binary, static_cast<unsigned char>(text_[binary])),
                       "export the log as text with delimiters (CSV); if it is UTF-16 text without a "
                       "byte-order mark, state encoding = \"utf-16\" in the channel map");
  }
  return std::nullopt;
}

Result<std::optional<Head::Line>> Head::next(char delimiter, bool blank_too) {
  // A line break cannot be a delimiter: then quotation marks mean nothing either.
  for (;;) {
    if (at_ >= text_.size() && !read_more()) return std::optional<Line>{};
    Record record;
    if (delimiter == '\0') {
      std::size_t end = text_.find_first_of("\r\n", at_);
      record.complete = end != std::string::npos && (text_[end] == '\n' || end + 1 < text_.size() || ended_);
      record.end = record.complete ? end : text_.size();
      const bool pair =
          record.complete && text_[end] == '\r' && end + 1 < text_.size() && text_[end + 1] == '\n';
      record.next = record.end + (record.complete ? 1 : 0) + (pair ? 1 : 0);
    } else {
      record = next_record(text_, at_, {delimiter, comment_}, ended_);
    }
    if (!record.complete && !ended_) {
      if (text_.size() - at_ > longest_line_) {
        return log_failure(path_, fmt::format("line {} is longer than {} bytes", lines_ + 1, longest_line_),
                           "check that this is a log with one row a line");
      }
      read_more();
      continue;
    }
    const Line line{at_, record.end, lines_ + 1};
    at_ = record.next;
    lines_ += record.lines;
    if (blank_too || !is_blank(of(line))) return std::optional<Line>(line);
  }
}

Place Head::place(std::size_t offset, std::size_t length) const {
  const std::size_t end = std::min(text_.find('\n', offset), text_.size());
  Place place = Source(path_.string(), text_.substr(0, end)).place(offset, length);
  const LineRange turned = bytes_ ? bytes_->turned() : LineRange{};
  if (place.line >= turned.first && place.line <= turned.last)
    place.line = turned.first + turned.last - place.line;
  return place;
}

bool is_header(std::vector<std::string> cells, const TextForm& form) {
  for (std::string& cell : cells) cell = std::string(trim(cell));
  const bool marked = form.comment != '\0' && cells[0].starts_with(form.comment);
  // A map that names the first column without the mark is told of the header, and of no other line.
  if (marked) cells.emplace_back(trim(std::string_view(cells[0]).substr(1)));
  const auto holds = [&cells](const std::string& name) {
    return std::any_of(cells.begin(), cells.end(), [&name](const std::string& cell) {
      return cell == name || split_header(cell).name == name;
    });
  };
  const auto is_channel = [](const std::string& cell) {
    return plan::parse_channel(split_header(cell).name).has_value();
  };
  const HeaderNames& names = form.names;
  if (!std::all_of(names.all.begin(), names.all.end(), holds)) return false;
  const auto is_marked = [&form](const std::string& name) { return name.starts_with(form.comment); };
  if (marked && std::any_of(names.all.begin(), names.all.end(), is_marked))
    return true;  // the map says it itself
  if (names.first_is_time && !holds("time")) {
    if (marked) cells.pop_back();
    cells.erase(cells.begin());
  }
  return std::any_of(names.any.begin(), names.any.end(), holds) ||
         std::any_of(cells.begin(), cells.end(), is_channel);
}

bool is_comment(std::string_view line, const TextForm& form) {
  if (form.comment == '\0' || !line.starts_with(form.comment)) return false;
  const char delimiter = form.blanks > 0 ? '\t' : form.delimiter;
  return !is_header(split_record(line, delimiter != '\0' ? delimiter : find_delimiter(line)), form);
}

char find_delimiter(std::string_view header) {
  char best = ',';
  std::size_t most = 0;
  for (const char c : known_delimiters) {
    const auto n = static_cast<std::size_t>(std::count(header.begin(), header.end(), c));
    if (n > most) {
      most = n;
      best = c;
    }
  }
  return best;
}

}  // namespace vacuary::log
