#include "log/split.hpp"

#include <algorithm>
#include <cstring>
#include <utility>

#include "log/record.hpp"

namespace vacuary::log {
namespace {

std::string_view text_of(const Slab& slab) { return {slab.bytes.data(), slab.size}; }

bool has_quote(std::string_view text) { return std::memchr(text.data(), '"', text.size()) != nullptr; }

// The line's cells that its stamp is made of, in the order of their columns; nothing for one that it lacks.
// What stands between them is no part of it.
std::vector<std::string_view> stamp_cells(std::string_view line, const Layout& layout) {
  std::vector<std::uint32_t> ends;
  static_cast<void>(next_record(line, 0, {layout.delimiter}, true, &ends));
  ends.push_back(static_cast<std::uint32_t>(line.size()));
  const auto cell = [&](std::size_t column) {
    if (column >= ends.size()) return std::string_view();
    const std::size_t from = column == 0 ? 0 : ends[column - 1] + std::size_t{1};
    return line.substr(from, ends[column] - from);
  };
  if (layout.time_parts.empty()) return {cell(layout.time_column)};
  std::vector<std::string_view> out;
  for (const std::size_t part : layout.time_parts) out.push_back(cell(part));
  return out;
}

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t\r\n") == std::string_view::npos; }

}  // namespace

Splitter::Splitter(std::vector<std::filesystem::path> files,
                   std::vector<std::shared_ptr<const Layout>> layouts, OpenedFile first,
                   const plan::ChannelMap& map, const Options& options)
    : files_(std::move(files)),
      layouts_(std::move(layouts)),
      map_(map),
      options_(options),
      kernels_(&kernels(options.instructions)),
      bytes_(std::move(first.bytes)),
      carry_(std::move(first.rest)),
      lines_before_(first.lines),
      consumed_(first.consumed) {}

bool Splitter::open_next_file() {
  if (file_ + 1 >= files_.size()) return false;
  ++file_;
  auto opened = open_log_file(files_[file_], map_, options_);
  if (!opened.has_value()) {
    failure_ = opened.diagnostics().front();
    return false;
  }
  if (opened.value().layout.header_record != layouts_[file_]->header_record) {
    failure_ = log_failure(files_[file_], "the log changed while it was read", "run again");
    return false;
  }
  bytes_ = std::move(opened.value().bytes);
  carry_ = std::move(opened.value().rest);
  lines_before_ = opened.value().lines;
  consumed_ = opened.value().consumed;
  ended_ = false;
  first_of_file_ = true;
  return true;
}

bool Splitter::next(Slab& slab) {
  if (failure_ || !bytes_) return false;
  if (ended_ && carry_.empty() && !first_of_file_ && !open_next_file()) {
    bytes_.reset();
    return false;
  }
  slab.layout = layouts_[file_];
  slab.place.file = static_cast<int>(file_);
  slab.place.first = first_of_file_;
  slab.place.lines_before = std::exchange(lines_before_, 0);
  slab.place.file_bytes = std::exchange(consumed_, 0);
  slab.skipped_lines = 0;
  slab.cut = false;
  first_of_file_ = false;
  fill(slab);
  slab.last = ended_ && carry_.empty();
  if (slab.last && bytes_->failure()) failure_ = bytes_->failure();
  if (slab.bytes.size() < slab.size + slab_padding) slab.bytes.resize(slab.size + slab_padding);
  std::fill_n(slab.bytes.begin() + static_cast<std::ptrdiff_t>(slab.size), slab_padding, '\0');
  return true;
}

void Splitter::append(Slab& slab) {
  if (slab.bytes.size() < slab.size + slab_bytes + slab_padding) {
    slab.bytes.resize(slab.size + slab_bytes + slab_padding);
  }
  const std::size_t n = bytes_->read(slab.bytes.data() + slab.size, slab_bytes);
  slab.quoted = slab.quoted || has_quote({slab.bytes.data() + slab.size, n});
  slab.size += n;
  slab.place.file_bytes += n;
  ended_ = n < slab_bytes;
}

bool Splitter::fill(Slab& slab) {
  slab.size = carry_.size();
  slab.quoted = has_quote(carry_);
  if (slab.place.first) slab.place.file_bytes += slab.size;  // what opening had read beyond the header
  if (slab.bytes.size() < slab.size) slab.bytes.resize(slab.size + slab_padding);
  std::copy(carry_.begin(), carry_.end(), slab.bytes.begin());
  carry_.clear();
  for (;;) {
    if (!ended_) append(slab);
    if (ended_) {
      const char end = slab.size > 0 ? slab.bytes[slab.size - 1] : '\n';
      if (end != '\n' && end != '\r') {
        slab.cut = true;
        slab.bytes.resize(std::max(slab.bytes.size(), slab.size + slab_padding));
        slab.bytes[slab.size++] = '\n';
      }
      const std::size_t kept = before_footer(slab, slab.size);
      slab.cut = slab.cut && kept == slab.size;
      slab.size = kept;
      return slab.size > 0;
    }
    std::size_t end = before_footer(slab, last_record_end(slab));
    if (map_.long_form) end = before_last_stamp(slab, end);
    if (end > 0) {
      carry_.assign(slab.bytes.data() + end, slab.size - end);
      slab.size = end;
      return true;
    }
    if (slab.size > options_.longest_line) skip_long_line(slab);
  }
}

// In a long log the rows of one stamp belong together, so those of the last one wait for the next slab, which
// may have more of them. Unless a slab has one stamp only, or quoted cells that go on in the next line.
std::size_t Splitter::before_last_stamp(const Slab& slab, std::size_t end) const {
  if (!lines_are_records_ || end == 0) return end;
  const std::string_view text{slab.bytes.data(), end};
  const auto ends_line = [](char c) { return c == '\n' || c == '\r'; };
  std::vector<std::string_view> last;
  for (std::size_t to = end, cut = end; to > 0;) {
    while (to > 0 && ends_line(text[to - 1])) --to;
    std::size_t from = to;
    while (from > 0 && !ends_line(text[from - 1])) --from;
    const std::string_view line = text.substr(from, to - from);
    const char comment = slab.layout->comment;
    if (comment == '\0' || !line.starts_with(comment)) {
      std::vector<std::string_view> stamp = stamp_cells(line, *slab.layout);
      if (last.empty())
        last = std::move(stamp);
      else if (stamp != last)
        return cut;
    }
    cut = to = from;
  }
  return end;
}

// Drops the line that the slab begins with and that does not end in it, to its end.
void Splitter::skip_long_line(Slab& slab) {
  ++slab.skipped_lines;
  slab.size = 0;
  while (!ended_) {
    append(slab);
    const std::string_view text = text_of(slab);
    const std::size_t end = text.find_first_of("\r\n");
    if (end == std::string_view::npos || (text[end] == '\r' && end + 1 == text.size() && !ended_)) {
      slab.size = 0;
      continue;
    }
    const std::size_t next = end + (text.substr(end).starts_with("\r\n") ? 2 : 1);
    carry_.assign(slab.bytes.data() + next, slab.size - next);
    std::copy(carry_.begin(), carry_.end(), slab.bytes.begin());
    slab.size = carry_.size();
    carry_.clear();
    return;
  }
}

// Whether `text` ends outside of quoted cells and none of them holds a line break.
bool Splitter::quotes_in_order(std::string_view text, char delimiter) {
  const std::size_t room = text.size() + 64;
  if (delimiters_.size() < room) delimiters_.resize(room);
  if (ends_.size() < room) ends_.resize(room);
  Positions found{delimiters_.data(), 0, ends_.data(), 0};
  return kernels_->index_quoted(text.data(), text.size(), delimiter, found);
}

std::size_t Splitter::last_record_end(const Slab& slab) {
  const std::string_view text = text_of(slab);
  lines_are_records_ = true;
  if (!slab.quoted) {
    // A CR as the last byte may be half of a CRLF.
    const std::size_t lf = text.rfind('\n');
    const std::size_t from = lf == std::string_view::npos ? 0 : lf + 1;
    const std::string_view tail = text.substr(from, text.size() - from);
    const std::size_t cr =
        tail.empty() ? std::string_view::npos : tail.substr(0, tail.size() - 1).rfind('\r');
    return cr == std::string_view::npos ? from : from + cr + 1;
  }
  const std::size_t lf = text.rfind('\n');
  if (lf != std::string_view::npos && text.find('\r', lf) == std::string_view::npos &&
      quotes_in_order(text.substr(0, lf + 1), slab.layout->delimiter)) {
    return lf + 1;
  }
  std::size_t end = 0;
  for (;;) {
    const Record record = next_record(text, end, slab.layout->marks(), false);
    if (!record.complete) return end;
    lines_are_records_ = lines_are_records_ && record.lines == 1;
    end = record.next;
  }
}

// Keeps the last footer_lines lines back: they may be the footer.
std::size_t Splitter::before_footer(const Slab& slab, std::size_t end) const {
  const std::string_view text = text_of(slab);
  for (unsigned i = 0; i < map_.footer_lines && end > 0;) {
    std::size_t start = end - 1;
    while (start > 0 && text[start - 1] != '\n' && text[start - 1] != '\r') --start;
    if (!is_blank(text.substr(start, end - start))) ++i;
    end = start;
  }
  return end;
}

}  // namespace vacuary::log
