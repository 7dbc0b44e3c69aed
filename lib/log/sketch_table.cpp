// Where the table of an unknown export begins, how its cells are parted and its numbers written.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <optional>
#include <set>

#include "log/bytes.hpp"
#include "log/cell.hpp"
#include "log/head.hpp"
#include "log/record.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t beginning_bytes = std::size_t{256} << 10U;
constexpr std::size_t most_lines = 1000;
constexpr char comment_mark = '#';

struct Line {
  std::size_t from = 0;
  std::string_view text;
  std::size_t above = 0;  // physical lines before it
  [[nodiscard]] bool marked() const { return text.starts_with(comment_mark); }
};

std::vector<Line> physical_lines(std::string_view text) {
  std::vector<Line> out;
  std::size_t from = 0;
  while (from < text.size() && out.size() < most_lines) {
    const std::size_t end = std::min(text.find_first_of("\r\n", from), text.size());
    out.push_back({from, text.substr(from, end - from), out.size()});
    from = end + (text.substr(end, 2) == "\r\n" ? 2 : 1);
  }
  return out;
}

// The same where quoted names hold line breaks; the lines above may hold any quotation marks.
std::vector<Line> lines_of_records(std::string_view text, char delimiter) {
  std::vector<Line> out;
  std::size_t above = 0;
  for (std::size_t from = 0; from < text.size() && out.size() < most_lines;) {
    const Record record = next_record(text, from, {delimiter}, true);
    out.push_back({from, text.substr(from, record.end - from), above});
    above += record.lines;
    from = record.next;
  }
  return out;
}

// Whether the mark begins comments, or the numbers of rows: "#1", "#2".
bool has_comments(const std::vector<Line>& lines) {
  std::ptrdiff_t others = 0;
  for (const Line& line : lines) {
    const std::string_view text = trim(line.text);
    const bool numbered = line.marked() && text.size() > 1 && text[1] >= '0' && text[1] <= '9';
    if (numbered || (!text.empty() && !line.marked())) others += numbered ? -1 : 1;
  }
  return others >= 0;
}

// How well a delimiter explains the lines: the share of lines with the usual number of cells, and
// whether the first of them is a line of names.
struct Trial {
  char delimiter = ',';
  std::size_t cells = 0, header_line = 0;
  double share = 0;
  bool named = false;
  std::size_t short_names = 0;  // cells of the line of names above, when it has fewer than the rows
  [[nodiscard]] bool explains() const { return cells >= 2 && named && share > 0.9; }
  [[nodiscard]] bool better_than(const Trial& other) const {
    if (named != other.named) return named;
    if ((share > 0.9) != (other.share > 0.9)) return share > 0.9;
    return cells > other.cells;
  }
};

std::size_t cells_of(std::string_view line, char delimiter) {
  std::vector<std::uint32_t> delimiters;
  static_cast<void>(next_record(line, 0, {delimiter}, true, &delimiters));
  while (!delimiters.empty() && trim(line.substr(delimiters.back() + 1)).empty()) {
    line = line.substr(0, delimiters.back());
    delimiters.pop_back();
  }
  return delimiters.size() + 1;
}

bool is_names(const Cells& cells) {
  return std::none_of(cells.begin(), cells.end(),
                      [](const std::string& cell) { return is_value(trim(cell)); });
}

// "7", "#7" and "Column 7" to 7.
std::optional<unsigned> column_number(std::string_view cell) {
  const std::size_t digits = std::min(cell.find_first_of("0123456789"), cell.size());
  const std::string word = lower(trim(cell.substr(0, digits)));
  constexpr std::array words = {"", "#", "no.", "nr.", "col", "column", "spalte"};
  if (std::find(words.begin(), words.end(), word) == words.end()) return std::nullopt;
  unsigned number = 0;
  const auto [end, error] = std::from_chars(cell.data() + digits, cell.data() + cell.size(), number);
  if (error != std::errc() || end != cell.data() + cell.size()) return std::nullopt;
  return number;
}

// "A" for the first column, "AA" for the one behind "Z", as spreadsheets have them.
std::string column_letters(std::size_t column) {
  std::string out;
  for (++column; column > 0; column = (column - 1) / 26)
    out.insert(out.begin(), static_cast<char>('A' + (column - 1) % 26));
  return out;
}

bool is_lettering(const Cells& cells) {
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (trim(cells[i]) != column_letters(i)) return false;
  }
  return true;
}

// Running numbers; the first cell may say what they are, or be blank.
bool is_numbering(const Cells& cells) {
  const auto first = column_number(trim(cells[0]));
  const std::size_t from = first ? 0 : 1;
  if (cells.size() < from + 2) return false;
  const auto start = column_number(trim(cells[from]));
  if (!start || *start > 2) return false;
  for (std::size_t i = from; i < cells.size(); ++i) {
    if (column_number(trim(cells[i])) != *start + (i - from)) return false;
  }
  return true;
}

// Names rather than units: of the cells of a line of units some may be no unit known here.
bool is_mostly_names(const Cells& cells) {
  std::ptrdiff_t more_names = 0;
  for (const std::string& cell : cells) {
    const std::string_view text = trim(cell);
    if (!text.empty()) more_names += is_unit(text) ? -1 : 1;
  }
  return is_names(cells) && more_names > 0;
}

Cells cells_in(std::string_view line, char delimiter) {
  Cells cells = split_record(line, delimiter);
  while (cells.size() > 1 && trim(cells.back()).empty()) cells.pop_back();
  return cells;
}

// Loggers put the columns' numbers above their names: such a line belongs to the preamble.
std::size_t below_numbering(const std::vector<Line>& lines, std::size_t at, char delimiter) {
  const Cells cells = cells_in(lines[at].text, delimiter);
  if (!is_numbering(cells) && !is_lettering(cells)) return at;
  std::size_t next = at + 1;
  while (next < lines.size() && trim(lines[next].text).empty()) ++next;
  const bool names = next < lines.size() && is_mostly_names(cells_in(lines[next].text, delimiter));
  return names ? next : at;
}

bool are_units(const Cells& cells) {
  bool any = false;
  for (const std::string& cell : cells) {
    const std::string_view text = trim(cell);
    if (!text.empty() && !is_unit(text)) return false;
    any = any || !text.empty();
  }
  return any;
}

// Some put the units above the names.
std::size_t below_units(const std::vector<Line>& lines, std::size_t at, char delimiter) {
  const bool names = at + 1 < lines.size() && is_mostly_names(cells_in(lines[at + 1].text, delimiter));
  return names && are_units(cells_in(lines[at].text, delimiter)) ? at + 1 : at;
}

// Of lines of names above the rows the header: the last that names a time, or the last.
std::size_t header_of(const std::vector<Line>& lines, const std::vector<std::size_t>& candidates,
                      char delimiter) {
  const auto names_time = [&](std::size_t line) {
    const Cells cells = cells_in(lines[line].text, delimiter);
    return std::any_of(cells.begin(), cells.end(),
                       [](const std::string& cell) { return named_like_time(std::string(trim(cell))); });
  };
  const auto found = std::find_if(candidates.rbegin(), candidates.rend(), names_time);
  return found == candidates.rend() ? candidates.back() : *found;
}

// The first line of so many names from `at` on that is no comment; where a row comes before it, one of those
// that begin with the mark is the header.
std::size_t below_comments(const std::vector<Line>& lines, const std::vector<std::size_t>& counts,
                           std::size_t at, char delimiter) {
  std::vector<std::size_t> marked;
  for (std::size_t next = at; next < lines.size(); ++next) {
    if (counts[next] < counts[at]) continue;
    const bool names = is_names(split_record(lines[next].text, delimiter));
    if (!lines[next].marked() && names) return next;
    if (!lines[next].marked()) break;
    if (names) marked.push_back(next);
  }
  return marked.empty() ? at : header_of(lines, marked, delimiter);
}

Trial try_delimiter(const std::vector<Line>& lines, char delimiter) {
  Trial out;
  out.delimiter = delimiter;
  std::vector<std::size_t> counts;
  for (const Line& line : lines)
    counts.push_back(trim(line.text).empty() ? 0 : cells_of(line.text, delimiter));
  const bool comments = has_comments(lines);
  std::vector<std::size_t> sorted;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (counts[i] > 0 && !(comments && lines[i].marked())) sorted.push_back(counts[i]);
  }
  std::sort(sorted.begin(), sorted.end());
  std::size_t most = 0;
  for (auto at = sorted.begin(); at != sorted.end();) {
    const auto next = std::upper_bound(at, sorted.end(), *at);
    const auto n = static_cast<std::size_t>(next - at);
    if (*at >= 2 && n >= most) {
      most = n;
      out.cells = *at;
    }
    at = next;
  }
  if (out.cells < 2) return out;
  // The header may name columns that are empty in every row behind it.
  std::size_t first = 0;
  while (counts[first] < out.cells) ++first;
  if (comments && lines[first].marked()) first = below_comments(lines, counts, first, delimiter);
  first = below_units(lines, below_numbering(lines, first, delimiter), delimiter);
  out.header_line = first;
  out.share = static_cast<double>(most) / static_cast<double>(sorted.size());
  if (counts[first] < out.cells) {
    out.short_names = counts[first];
    return out;
  }
  out.cells = counts[first];
  out.named = is_names(split_record(lines[first].text, delimiter));
  if (out.named || first == 0) return out;
  // Names that end too early: the rows have cells behind the last of them.
  const Cells above = split_record(lines[first - 1].text, delimiter);
  const bool parted = lines[first - 1].text.find(delimiter) != std::string_view::npos;
  if (counts[first - 1] > 0 && parted && is_names(above)) out.short_names = counts[first - 1];
  return out;
}

// Also one with its unit behind it.
bool reads_as_number(const std::string& cell, const NumberStyle& style) {
  if (parse_number(cell, style).is == NumberIs::number) return true;
  const std::size_t end = end_of_number(cell, style);
  return end > 0 && is_unit(trim(std::string_view(cell).substr(end))) &&
         parse_number(std::string_view(cell).substr(0, end), style).is == NumberIs::number;
}

// Counts of cells that read with each way of writing numbers: the one that reads most, and of
// equals the plainest.
void find_number_style(Table& table) {
  const NumberStyle styles[] = {{'.', '\0'}, {',', '\0'}, {'.', ','}, {',', '.'},
                                {'.', '\''}, {',', ' '},  {'.', ' '}};
  std::size_t best = 0;
  for (const NumberStyle& style : styles) {
    std::size_t read = 0;
    for (const Cells& row : table.rows) {
      for (const std::string& cell : row) read += reads_as_number(cell, style) ? 1U : 0U;
    }
    if (read > best) {
      best = read;
      table.style = style;
    }
  }
  if (table.style.point != ',' || table.style.thousands != '\0') return;
  // Groups of three behind every comma: nothing tells 1,234 from 1234.
  std::string example;
  for (const Cells& row : table.rows) {
    for (const std::string& cell : row) {
      const std::size_t comma = cell.find(',');
      if (comma == std::string::npos || !reads_as_number(cell, table.style)) continue;
      const NumberStyle other{'.', ','};
      if (!reads_as_number(cell, other)) return;
      if (example.empty()) example = cell;
    }
  }
  table.comma_or_thousands = example;
}

bool begins_comment(std::string_view line, RecordMarks marks) {
  return marks.comment != '\0' && line.starts_with(marks.comment);
}

Cells clean_cells(std::string_view record, char delimiter) {
  Cells cells = split_record(record, delimiter);
  for (std::string& cell : cells) cell = clean(trim(cell));
  while (cells.size() > 1 && cells.back().empty()) cells.pop_back();
  return cells;
}

// Where the record from `at` on ends, with blank lines behind it.
std::size_t behind_record(std::string_view text, std::size_t at, char delimiter) {
  at = next_record(text, at, {delimiter}, true).next;
  while (at < text.size()) {
    const Record record = next_record(text, at, {delimiter}, true);
    if (!trim(text.substr(at, record.end - at)).empty()) break;
    at = record.next;
  }
  return at;
}

// The line behind the header, when it holds units and no values.
void take_units_line(Table& table, std::vector<Cells>& all, std::string_view text, unsigned blanks) {
  if (all.empty()) return;
  const Cells& line = all.front();
  std::size_t at = table.rows_from, comments = 0;
  for (; begins_comment(text.substr(at), table.marks()); ++comments)
    at = behind_record(text, at, table.delimiter);
  if (blanks > 0) {  // whose units they are must show
    const std::string_view raw = text.substr(at);
    const std::string_view record = raw.substr(0, raw.find_first_of("\r\n"));
    const auto tabs = std::count(record.begin(), record.end(), '\t');
    if (static_cast<std::size_t>(tabs) + 1 != table.header.size()) return;
  }
  if (std::any_of(line.begin(), line.end(), is_value) || std::none_of(line.begin(), line.end(), is_unit))
    return;
  table.units = line;
  table.units.resize(table.header.size());
  table.comments = comments;
  table.rows_from = behind_record(text, at, table.delimiter);
  all.erase(all.begin());
}

// Share of the lines behind the header, but for blank ones and comments, that have so many cells, empty ones
// at the end too.
double share_of_lines(const std::vector<Line>& lines, std::size_t cells) {
  std::size_t all = 0, such = 0;
  const bool comments = has_comments(lines);
  for (const Line& line : lines) {
    if (trim(line.text).empty() || (comments && line.marked() && &line != &lines.front())) continue;
    ++all;
    such +=
        static_cast<std::size_t>(std::count(line.text.begin(), line.text.end(), '\t')) + 1 == cells ? 1U : 0U;
  }
  return static_cast<double>(such) / static_cast<double>(std::max<std::size_t>(all, 1));
}

// The last lines of names above the first two rows that have as many cells as one of them: any may be prose,
// but the header.
std::vector<std::size_t> lines_of_names(const std::vector<Line>& lines) {
  constexpr std::size_t most = 20;  // each is tried, and in a text that is no table all lines are such
  std::vector<std::size_t> out;
  std::set<std::size_t> counts;
  std::size_t row_cells = 0, above_row = 0;  // of the line before, if it may be a row
  for (std::size_t i = 0; i < lines.size(); ++i) {
    Cells line = cells_in(lines[i].text, '\t');
    if (line[0] == std::string_view(&comment_mark, 1)) line.erase(line.begin());  // as before the first name
    if (line.size() < 2) continue;
    if (is_mostly_names(line)) {
      out.push_back(i);
      counts.insert(line.size());
    }
    if (lines[i].marked()) continue;
    const bool row = !is_names(line) && counts.contains(line.size());
    if (row && row_cells == line.size()) {
      out.resize(above_row);
      break;
    }
    row_cells = row ? line.size() : 0;
    above_row = out.size();
  }
  if (out.size() > most) out.erase(out.begin(), out.end() - most);
  return out;
}

// The table that begins with the line `header`, if the lines behind it have as many cells: blanks need not
// show where one is missing.
std::optional<Trial> try_blanks(Beginning& beginning, unsigned blanks, std::size_t header) {
  constexpr std::size_t least_lines = 3;  // of fewer, two words and two words are no table yet
  TextForm form = beginning.form;
  form.blanks = blanks;
  form.preamble_lines = static_cast<unsigned>(header);
  std::string text = tabs_for_blanks(beginning.text, form);
  std::vector<Line> table = physical_lines(text);
  table.erase(table.begin(), table.begin() + static_cast<std::ptrdiff_t>(header));
  Trial trial = try_delimiter(table, '\t');
  if (table.size() < least_lines || trial.header_line != 0 || trial.cells < 2 || !trial.named)
    return std::nullopt;
  if (share_of_lines(table, trial.cells) < 0.9) return std::nullopt;
  beginning.form = form;
  beginning.text = std::move(text);
  trial.header_line = header;
  return trial;
}

// Columns that stand under each other, or one blank between any two cells. With one, prose has cells too.
std::optional<Trial> part_by_blanks(Beginning& beginning) {
  for (const unsigned blanks : {2U, 1U}) {
    TextForm form = beginning.form;
    form.blanks = blanks;
    const std::string plainly = tabs_for_blanks(beginning.text, form);
    const std::vector<Line> lines = physical_lines(plainly);
    const std::size_t first = try_delimiter(lines, '\t').header_line;
    std::vector<std::size_t> candidates = lines_of_names(lines);
    while (blanks == 1 && !candidates.empty()) {
      const std::size_t header = header_of(lines, candidates, '\t');
      if (auto found = try_blanks(beginning, blanks, header)) return found;
      candidates.erase(std::find(candidates.begin(), candidates.end(), header));
    }
    if (auto found = try_blanks(beginning, blanks, first)) return found;
  }
  return std::nullopt;
}

// "p, mbar  T, degC": blanks that stand at no delimiter.
bool parts_by_blanks_too(std::string_view line, char delimiter) {
  line = trim(line);
  for (std::size_t at = line.find("  "); at != std::string_view::npos; at = line.find("  ", at)) {
    const std::size_t end = line.find_first_not_of(' ', at);
    if (line[at - 1] != delimiter && line[end] != delimiter) return true;
    at = end;
  }
  return false;
}

std::string other_delimiter(const std::vector<Line>& lines) {
  if (lines.empty()) return "";
  for (const auto& [c, name] :
       {std::pair{' ', "blanks, and not as many in every line"}, std::pair{':', "':', which is not read"}}) {
    std::size_t with = 0;
    for (const Line& line : lines) with += std::count(line.text.begin(), line.text.end(), c) >= 1 ? 1U : 0U;
    if (2 * with > lines.size() && lines.size() > 2)
      return fmt::format("; its cells seem to be apart by {}", name);
  }
  return "";
}

}  // namespace

std::vector<Cells> records(std::string_view text, RecordMarks marks) {
  std::vector<Cells> out;
  for (std::size_t at = 0; at < text.size() && out.size() < most_lines;) {
    const Record record = next_record(text, at, marks, true);
    const std::string_view line = text.substr(at, record.end - at);
    at = record.next;
    if (!trim(line).empty() && !begins_comment(line, marks))
      out.push_back(clean_cells(line, marks.delimiter));
  }
  return out;
}

bool is_unit(std::string_view text) {
  return std::holds_alternative<std::vector<Unit>>(parse_unit_of_any_kind(without_brackets(text)));
}

Result<Beginning> read_beginning(const std::filesystem::path& file) {
  bool nul = false;
  for (const char* encoding : {"utf-8", "utf-16", "latin-1"}) {
    if (std::string_view(encoding) == "utf-16" && !nul) continue;  // UTF-16 text has zero bytes
    auto bytes = open_bytes(file, {encoding, 0, 0}, std::uint64_t{1} << 38U);
    if (!bytes.ok()) return bytes.diagnostics();
    Beginning out;
    out.form.encoding = encoding;
    out.text.resize(beginning_bytes);
    out.text.resize(bytes.value()->read(out.text.data(), out.text.size()));
    if (out.text.empty() && bytes.value()->failure()) return *bytes.value()->failure();
    if (const char* what = kind_of_no_table(trim(out.text)))
      return log_failure(file, fmt::format("this is {}, not a table", what),
                         "export the log as text with one row a line and delimiters (CSV)");
    const bool whole = out.text.size() < beginning_bytes;
    nul = out.text.find('\0') != std::string::npos;
    const std::size_t invalid = first_invalid_utf8(out.text);
    if (nul || (invalid != std::string::npos && (whole || invalid + 4 < out.text.size()))) continue;
    if (!whole) {
      const std::size_t last = out.text.find_last_of("\r\n");
      if (last != std::string::npos) out.text.resize(last + 1);
    }
    return out;
  }
  return log_failure(file, "this is not a text file in any encoding known here",
                     "export the log as text with delimiters (CSV)");
}

Result<Table> find_table(const std::filesystem::path& file, Beginning& beginning) {
  if (trim(beginning.text).empty())
    return log_failure(file, "the log is empty", "check that the export was finished and copied");
  std::vector<Line> lines = physical_lines(beginning.text);
  std::vector<std::string_view> texts;
  for (const Line& line : lines) texts.push_back(line.text);
  if (auto failure = no_table(file, texts)) return *failure;
  const bool more = lines.size() == most_lines;
  Trial best;
  for (const char delimiter : known_delimiters) {
    const Trial trial = try_delimiter(lines, delimiter);
    if (trial.cells >= 2 && (best.cells < 2 || trial.better_than(best))) best = trial;
  }
  for (std::size_t i = 0; !best.named && i < known_delimiters.size(); ++i) {
    std::vector<Line> of_records = lines_of_records(beginning.text, known_delimiters[i]);
    const Trial trial = try_delimiter(of_records, known_delimiters[i]);
    if (trial.cells < 2 || !trial.named) continue;
    best = trial;
    lines = std::move(of_records);
  }
  const bool blanks = best.cells < 2 || parts_by_blanks_too(lines[best.header_line].text, best.delimiter);
  if (!best.explains() || blanks) {
    if (const auto parted = part_by_blanks(beginning)) {
      lines = physical_lines(beginning.text);
      best = *parted;
    }
  }
  if (more && beginning.form.blanks == 0 && hold_no_values(texts))
    return log_failure(
        file, fmt::format("no row was found in its first {} lines, and no more were looked at", most_lines),
        "if the preamble is longer, cut it off: tail -n +NUMBER LOG > TABLE, with the number of the header's "
        "line");
  if (best.cells < 2) {
    return log_failure(file, "no table was found: no line has two cells or more" + other_delimiter(lines),
                       "export the log with one row a line, its cells apart by comma, semicolon, tab, '|' or "
                       "blanks");
  }
  if (!best.named) {
    Diagnostic d =
        best.short_names > 0
            ? log_failure(
                  file,
                  fmt::format("the line above the rows names {} of {} columns", best.short_names, best.cells),
                  "name every column in that line of the export, also one that is not wanted")
            : log_failure(
                  file, "no line of names was found above the rows: this one already holds values",
                  "put a line above the rows that names each column, or export the log with its header");
    d.where = Source(file.string(), beginning.text).place(lines[best.header_line].from, 1);
    return d;
  }
  Table table;
  table.delimiter = best.delimiter;
  table.preamble = lines[best.header_line].above;
  table.comment = has_comments(lines) ? comment_mark : '\0';
  const std::string_view text = beginning.text;
  const std::size_t from = lines[best.header_line].from;
  table.header_record = text.substr(from, next_record(text, from, {best.delimiter}, true).end - from);
  table.header = clean_cells(table.header_record, best.delimiter);
  table.rows_from = behind_record(text, from, best.delimiter);
  std::vector<Cells> all = records(text.substr(table.rows_from), table.marks());
  take_units_line(table, all, beginning.text, beginning.form.blanks);
  if (best.header_line > 0 && table.units.empty()) {
    Cells above = clean_cells(lines[best.header_line - 1].text, best.delimiter);
    if (above.size() > 1 && are_units(above)) table.units_above = std::move(above);
  }
  for (Cells& cells : all) {
    // Of a log on change most cells may be empty, at the end too.
    const bool enough = 2 * cells.size() >= table.header.size() || (cells.size() >= 2 && is_value(cells[0]));
    if (cells.size() > table.header.size() || !enough) continue;
    cells.resize(table.header.size());
    if (cells == table.header || cells == table.units) continue;  // of another export behind the first
    table.rows.push_back(std::move(cells));
  }
  if (table.rows.empty())
    return log_failure(file, "the log has a header and no rows", "check that the export was finished");
  find_number_style(table);
  return table;
}

}  // namespace vacuary::log
