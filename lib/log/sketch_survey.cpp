// All rows of an unknown export: what comes late in a run, such as the shutter's second word or a
// gauge that is switched on at high vacuum, must be in its map too.
#include <algorithm>
#include <map>

#include "log/bytes.hpp"
#include "log/record.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t end_bytes = std::size_t{16} << 10U;
constexpr std::size_t most_tags = 4096;
constexpr std::size_t most_units = 4;
// Text without a line end is no row, and must not be kept for ever.
constexpr std::size_t longest_record = std::size_t{4} << 20U;

class Surveyor {
 public:
  Surveyor(const Table& table, const TimeGuess* time, const LongGuess* long_form)
      : table_(table), time_(time), long_(long_form) {
    if (time_ != nullptr) check_.emplace(table, *time_);
    if (long_ == nullptr) {
      out_.columns.resize(table.header.size());
      out_.filling.resize(table.header.size());
    }
    out_.comments = table.comments;
  }

  // The whole records of `text`; what is left of it is the beginning of one. `last`: nothing follows.
  void take(std::string& text, bool last) {
    std::size_t at = 0;
    while (at < text.size()) {
      delimiters_.clear();
      const Record record = next_record(text, at, table_.marks(), last, &delimiters_);
      if (!record.complete && !last) break;
      row(text, at, record.end);
      at = record.next;
    }
    text.erase(0, at);
    if (text.size() > longest_record) text.clear();
  }

  Survey& out() { return out_; }

 private:
  void row(std::string_view text, std::size_t from, std::size_t end) {
    if (table_.comment != '\0' && text[from] == table_.comment) {
      if (text.substr(from, end - from) != table_.header_record) ++out_.comments;
      return;
    }
    cells_.clear();
    for (const std::uint32_t delimiter : delimiters_) {
      cells_.push_back(trim(text.substr(from, delimiter - from)));
      from = delimiter + std::size_t{1};
    }
    cells_.push_back(trim(text.substr(from, end - from)));
    const std::size_t written = cells_.size();
    while (!cells_.empty() && cells_.back().empty()) cells_.pop_back();
    const std::size_t wanted = table_.header.size();
    if (cells_.size() > wanted || 2 * written < wanted) return;
    cells_.resize(wanted);
    if (!has_stamp()) return;
    ++out_.rows;
    if (long_ != nullptr) add_to_tag();
    for (std::size_t i = 0; long_ == nullptr && i < wanted; ++i) {
      if (is_time(i)) continue;
      const std::string_view content = cell(i);
      out_.columns[i].add(content, table_.style);
      out_.filling[i].add(content.empty());
    }
  }

  // Good until the next call.
  std::string_view cell(std::size_t i) { return trim(cell_text(cells_[i], scratch_)); }

  [[nodiscard]] bool is_time(std::size_t i) const { return time_ != nullptr && time_->has(i); }

  bool has_stamp() {
    if (!check_) return true;
    const auto stamp = check_->read(time_->stamp([this](std::size_t i) { return cell(i); }));
    if (stamp && !out_.first) out_.first = stamp;
    if (stamp) out_.last = stamp;
    return stamp.has_value();
  }

  void add_to_tag() {
    const std::string_view name = cell(long_->name_column);
    auto found = tags_.find(name);
    if (found == tags_.end()) {
      out_.more_tags = out_.more_tags || tags_.size() == most_tags;
      if (tags_.size() == most_tags) return;
      found = tags_.emplace(std::string(name), out_.tags.size()).first;
      out_.tags.push_back({clean(name), {}, {}});
    }
    Survey::Tag& tag = out_.tags[found->second];
    tag.content.add(cell(long_->value_column), table_.style);
    if (long_->quality_column >= 0)
      out_.quality.add(cell(static_cast<std::size_t>(long_->quality_column)), table_.style);
    if (long_->unit_column < 0) return;
    const std::string_view unit = cell(static_cast<std::size_t>(long_->unit_column));
    const bool known = std::find(tag.units.begin(), tag.units.end(), unit) != tag.units.end();
    if (!unit.empty() && !known && tag.units.size() < most_units) tag.units.push_back(clean(unit));
  }

  const Table& table_;
  const TimeGuess* time_;
  const LongGuess* long_;
  std::optional<StampCheck> check_;
  std::map<std::string, std::size_t, std::less<>> tags_;
  std::vector<std::uint32_t> delimiters_;
  std::vector<std::string_view> cells_;
  std::string scratch_;
  Survey out_;
};

// The last lines, from pieces as they come.
void keep_end(std::string& end, std::string_view piece) {
  end += piece.substr(piece.size() - std::min(piece.size(), end_bytes));
  if (end.size() > end_bytes) end.erase(0, end.size() - end_bytes);
}

std::string_view from_next_line(std::string_view text) {
  const std::size_t line = text.find_first_of("\r\n");
  return line == std::string_view::npos ? std::string_view() : text.substr(line + 1);
}

}  // namespace

void Filling::add(bool is_empty) {
  ++(is_empty ? empty : filled);
  if (is_empty && last_filled_) ++alone;
  last_filled_ = !is_empty;
}

void Survey::add_tags(const Survey& other) {
  quality.add(other.quality);
  more_tags = more_tags || other.more_tags;
  for (const Tag& tag : other.tags) {
    const auto same =
        std::find_if(tags.begin(), tags.end(), [&tag](const Tag& each) { return each.name == tag.name; });
    if (same == tags.end()) {
      tags.push_back(tag);
      continue;
    }
    same->content.add(tag.content);
    for (const std::string& unit : tag.units) {
      const bool known = std::find(same->units.begin(), same->units.end(), unit) != same->units.end();
      if (!known && same->units.size() < most_units) same->units.push_back(unit);
    }
  }
}

Result<Survey> survey(const std::filesystem::path& file, const TextForm& form, const Table& table,
                      const TimeGuess* time, const LongGuess* long_form, const Effort& effort) {
  auto opened = open_bytes(file, form, std::uint64_t{1} << 38U);
  if (!opened.ok()) return opened.diagnostics();
  ByteStream& bytes = *opened.value();
  Surveyor surveyor(table, time, long_form);
  std::string piece(table.rows_from, '\0');
  piece.resize(bytes.read(piece.data(), piece.size()));
  std::string text;
  std::string end;
  bool from_start = true;  // `end` is all there is
  bool gap = false;        // something was passed over before `text`
  for (std::size_t n = 0;; ++n) {
    piece.resize(effort.piece);
    piece.resize(bytes.read(piece.data(), piece.size()));
    from_start = from_start && end.size() + piece.size() <= end_bytes;
    keep_end(end, piece);
    const bool last = piece.size() < effort.piece;
    if (n >= effort.thorough && (n - effort.thorough) % effort.of != 0) {
      surveyor.out().pieces = surveyor.out().pieces || !piece.empty();
      gap = true;
    } else {
      if (gap) text.clear();
      text += gap ? from_next_line(piece) : std::string_view(piece);
      gap = false;
      surveyor.take(text, last);
    }
    if (last) break;
  }
  Survey out = std::move(surveyor.out());
  out.ended_early = bytes.failure().has_value();
  out.end = records(from_start ? std::string_view(end) : from_next_line(end), table.marks());
  return out;
}

}  // namespace vacuary::log
