#include "log/reference.hpp"

#include <cmath>
#include <cstdlib>

namespace vacuary::log::test {
namespace {

struct Line {
  std::vector<std::string> cells;
  std::uint64_t number = 0;
  bool ended = false;
  std::string text;
};

bool breaks(const std::string& s, std::size_t i) {
  return s[i] == '\n' || (s[i] == '\r' && !(i + 1 < s.size() && s[i + 1] == '\n'));
}

// Index of the mark that closes the cell opened at `open`; npos: none within the limits.
std::size_t closing(const std::string& s, std::size_t open, char delimiter) {
  std::size_t lines = 0;
  bool stray = false;
  for (std::size_t i = open + 1; i < s.size(); ++i) {
    if (s[i] == '"' && i + 1 < s.size() && s[i + 1] == '"') {
      ++i;
      continue;
    }
    const bool at_end = i + 1 == s.size();
    if (s[i] == '"' && (at_end || s[i + 1] == delimiter || s[i + 1] == '\n' || s[i + 1] == '\r')) return i;
    if (s[i] == '"') stray = true;
    if (breaks(s, i)) ++lines;
    if (lines > 0 && stray) return std::string::npos;
    if (lines > 64 || i - open - 1 > 65536) return std::string::npos;
  }
  return std::string::npos;
}

std::vector<Line> lines_of(const std::string& s, char delimiter) {
  std::vector<Line> out;
  std::uint64_t number = 1;
  std::size_t i = 0;
  while (i < s.size()) {
    Line line;
    line.number = number;
    const std::size_t from = i;
    std::string cell;
    bool at_start = true;
    for (; i < s.size(); ++i) {
      if (at_start && s[i] == '"') {
        if (const std::size_t close = closing(s, i, delimiter); close != std::string::npos) {
          for (std::size_t k = i + 1; k < close; ++k) {
            if (breaks(s, k)) ++number;
          }
          cell = s.substr(i, close + 1 - i);
          i = close;
          at_start = false;
          continue;
        }
      }
      at_start = false;
      if (s[i] == delimiter) {
        line.cells.push_back(cell);
        cell.clear();
        at_start = true;
      } else if (s[i] == '\n' || s[i] == '\r') {
        line.ended = true;
        break;
      } else {
        cell += s[i];
      }
    }
    line.cells.push_back(cell);
    line.text = s.substr(from, i - from);
    if (i < s.size()) i += s[i] == '\r' && i + 1 < s.size() && s[i + 1] == '\n' ? 2U : 1U;
    ++number;
    out.push_back(line);
  }
  return out;
}

std::string trimmed(std::string s) {
  while (!s.empty() && (s.front() == ' ' || s.front() == '\t')) s.erase(0, 1);
  while (!s.empty() && (s.back() == ' ' || s.back() == '\t')) s.pop_back();
  return s;
}

// Without blanks around it, quotation marks taken off, "" made one.
std::string plain(const std::string& raw) {
  const std::string s = trimmed(raw);
  if (s.size() < 2 || s.front() != '"' || s.back() != '"') return s;
  std::string out;
  for (std::size_t i = 1; i + 1 < s.size(); ++i) {
    out += s[i];
    if (s[i] == '"' && i + 2 < s.size() && s[i + 1] == '"') ++i;
  }
  return trimmed(out);
}

bool digit(char c) { return c >= '0' && c <= '9'; }

bool is_decimal(const std::string& s) {
  std::size_t i = 0;
  std::size_t digits = 0;
  if (i < s.size() && (s[i] == '+' || s[i] == '-')) ++i;
  for (; i < s.size() && digit(s[i]); ++i) ++digits;
  if (i < s.size() && s[i] == '.') ++i;
  for (; i < s.size() && digit(s[i]); ++i) ++digits;
  if (digits == 0) return false;
  if (i == s.size()) return true;
  if (s[i] != 'e' && s[i] != 'E') return false;
  ++i;
  if (i < s.size() && (s[i] == '+' || s[i] == '-')) ++i;
  const std::size_t from = i;
  while (i < s.size() && digit(s[i])) ++i;
  return i > from && i == s.size();
}

double number(const std::string& raw, Reference& out) {
  const std::string s = plain(raw);
  if (s.empty()) {
    ++out.count[Oddity::missing_cell];
  } else if (s == "NaN" || s == "nan") {
    ++out.count[Oddity::not_a_number];
  } else if (!is_decimal(s)) {
    ++out.count[Oddity::unreadable_cell];
  } else {
    const double value = std::strtod(s.c_str(), nullptr);
    if (std::isfinite(value)) return value + 0.0;  // -0 in a unit of scale one is 0
    ++out.count[Oddity::overrange];
  }
  return std::nan("");
}

struct Row {
  std::int64_t ns;
  const Line* line;
};

// Rows older than the last one kept go, and a single one ahead of the two that follow it.
std::vector<Row> in_order(const std::vector<Row>& rows) {
  std::vector<Row> kept;
  bool behind = false;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const std::int64_t floor = kept.empty() ? INT64_MIN : kept.back().ns;
    const std::int64_t ns = rows[i].ns;
    if (ns < floor || (behind && ns == floor)) {
      behind = true;
      continue;
    }
    behind = false;
    if (i + 2 < rows.size()) {
      const std::int64_t a = rows[i + 1].ns;
      const std::int64_t b = rows[i + 2].ns;
      if (a >= floor && a < ns && b >= a && b < ns) continue;
    }
    kept.push_back(rows[i]);
  }
  return kept;
}

}  // namespace

Reference read_slowly(const std::string& text, char delimiter) {
  Reference out;
  const std::vector<Line> lines = lines_of(text, delimiter);
  std::vector<std::string> header = lines.front().cells;
  std::vector<Row> rows;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const Line& line = lines[i];
    if (line.text.empty() || (line.cells.size() == 1 && trimmed(line.text).empty())) continue;
    bool surplus = false;
    for (std::size_t c = header.size(); c < line.cells.size(); ++c)
      surplus = surplus || !trimmed(line.cells[c]).empty();
    Instant at;
    if (line.cells.size() < header.size() || surplus) {
      ++out.count[line.ended ? Oddity::wrong_field_count : Oddity::cut_last_line];
    } else if (line.text == lines.front().text) {
      ++out.count[Oddity::repeated_header];
    } else if (!from_rfc3339(plain(line.cells[0]), at)) {
      ++out.count[line.ended ? Oddity::unreadable_time : Oddity::cut_last_line];
    } else {
      if (!line.ended) ++out.count[Oddity::cut_last_line];
      if (!line.ended && header.back().find('[') == std::string::npos) continue;
      rows.push_back({at.ns, &line});
    }
  }
  std::vector<std::map<std::string, double>> numbers;
  std::map<const Line*, std::vector<double>> cells;
  for (const Row& row : rows) {  // a cell is counted also where its row is dropped for its stamp
    auto& of_row = cells[row.line];
    for (std::size_t c = 1; c < header.size(); ++c) {
      const bool is_text = header[c].find('[') == std::string::npos;
      const bool cut = !row.line->ended && c + 1 == header.size();
      of_row.push_back(is_text || cut ? std::nan("") : number(row.line->cells[c], out));
    }
  }
  for (const Row& row : in_order(rows)) {
    out.time_ns.push_back(row.ns);
    out.line.push_back(row.line->number);
    for (std::size_t c = 1; c < header.size(); ++c) {
      const std::string name = header[c].substr(0, header[c].find(" ["));
      if (name == header[c]) {
        auto& column = out.texts[name];
        const bool cut = !row.line->ended && c + 1 == header.size();
        column.push_back(cut ? (column.empty() ? "" : column.back()) : plain(row.line->cells[c]));
      } else {
        out.values[name].push_back(cells[row.line][c - 1]);
      }
    }
  }
  return out;
}

}  // namespace vacuary::log::test
