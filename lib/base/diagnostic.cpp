#include "base/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <numeric>
#include <string_view>

#include "base/files.hpp"

namespace vacuary {
namespace {

// Long lines are shown around the caret, this many code points at most.
constexpr std::size_t shown_columns = 100;

struct Colours {
  const char* severity;
  const char* bold;
  const char* off;
};

Colours colours(Severity severity, bool wanted) {
  if (!wanted) return {"", "", ""};
  switch (severity) {
    case Severity::error:
      return {"\x1b[1;31m", "\x1b[1m", "\x1b[0m"};
    case Severity::warning:
      return {"\x1b[1;33m", "\x1b[1m", "\x1b[0m"};
    case Severity::note:
      break;
  }
  return {"\x1b[1;36m", "\x1b[1m", "\x1b[0m"};
}

// Characters that turn the direction of writing or break a line: a terminal would show another text
// than the file holds.
bool misleads(std::string_view point) {
  if (point.size() == 2) return point[0] == '\xC2' && static_cast<unsigned char>(point[1]) < 0xA0;  // C1
  if (point.size() != 3 || point[0] != '\xE2') return false;
  const auto second = static_cast<unsigned char>(point[1]);
  const auto third = static_cast<unsigned char>(point[2]);
  if (second == 0x80) return third >= 0xA8 && third <= 0xAE;  // U+2028 to U+202E
  return second == 0x81 && third >= 0xA6 && third <= 0xA9;    // U+2066 to U+2069
}

// One entry per code point; control characters and broken bytes become '?', a tab one blank, so that
// the caret stands under its column.
std::vector<std::string> printable_code_points(const std::string& text) {
  std::vector<std::string> points;
  for (std::size_t i = 0; i < text.size();) {
    const auto byte = static_cast<unsigned char>(text[i]);
    const std::size_t length = byte < 0xC0 ? 1 : byte < 0xE0 ? 2 : byte < 0xF0 ? 3 : 4;
    const std::string point = text.substr(i, length);
    const bool broken = first_invalid_utf8(point) != std::string::npos;
    if (byte == '\t') {
      points.emplace_back(" ");
    } else if (byte < 0x20 || byte == 0x7F || broken || misleads(point)) {
      points.emplace_back("?");
    } else {
      points.push_back(point);
    }
    i += broken ? 1 : point.size();
  }
  return points;
}

void print_head(std::string& out, const std::optional<Place>& where, const char* severity,
                const std::string& message, const std::string& rule, const Colours& c) {
  if (where) {
    out += fmt::format("{}{}", c.bold, printable(where->file));
    if (where->line != 0) out += fmt::format(":{}", where->line);
    if (where->line != 0 && where->column != 0) out += fmt::format(":{}", where->column);
    out += fmt::format(":{} ", c.off);
  }
  out += fmt::format("{}{}:{} {}", c.severity, severity, c.off, printable(message));
  if (!rule.empty()) out += fmt::format(" [{}]", rule);
  out += '\n';
}

void print_line(std::string& out, const Place& place, const Colours& c) {
  if (place.line == 0 || place.line_text.empty()) return;
  const std::vector<std::string> points = printable_code_points(place.line_text);
  const std::size_t caret = place.column == 0 ? 0 : place.column - 1;
  std::size_t first = 0;
  if (points.size() > shown_columns && caret > shown_columns / 2) first = caret - shown_columns / 2;
  const std::size_t last = std::min(points.size(), first + shown_columns);
  std::string shown = first > 0 ? "..." : "";
  const std::size_t lead = shown.size();
  for (std::size_t i = first; i < last; ++i) shown += points[i];
  if (last < points.size()) shown += "...";
  while (!shown.empty() && shown.back() == ' ') shown.pop_back();
  const std::string number = std::to_string(place.line);
  out += fmt::format("{:>5} | {}\n", number, shown);
  if (place.column == 0) return;
  const std::size_t gutter = std::max<std::size_t>(number.size(), 5);
  const std::size_t room = last > caret ? last - caret : 1;
  const std::size_t width = std::clamp<std::size_t>(place.width, 1, room);
  out += fmt::format("{} | {}{}^{}{}\n", std::string(gutter, ' '), std::string(lead + caret - first, ' '),
                     c.severity, std::string(width - 1, '~'), c.off);
}

std::size_t edit_distance(const std::string& a, const std::string& b) {
  // Damerau's optimal string alignment: insert, delete, replace, swap neighbours.
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  std::iota(d[0].begin(), d[0].end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replace = d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, replace});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
      }
    }
  }
  return d[a.size()][b.size()];
}

std::string folded(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char ch) { return static_cast<char>(std::tolower(ch)); });
  return text;
}

}  // namespace

const char* name(Severity severity) {
  switch (severity) {
    case Severity::error:
      return "error";
    case Severity::warning:
      return "warning";
    case Severity::note:
      break;
  }
  return "note";
}

std::string printable(const std::string& text, bool keep_line_breaks) {
  std::string out;
  std::size_t start = 0;
  while (start <= text.size()) {
    const std::size_t end = keep_line_breaks ? std::min(text.find('\n', start), text.size()) : text.size();
    for (const std::string& point : printable_code_points(text.substr(start, end - start))) out += point;
    if (end < text.size()) out += '\n';
    start = end + 1;
  }
  return out;
}

Place Place::whole_file(std::string file) {
  Place place;
  place.file = std::move(file);
  return place;
}

bool has_errors(const Diagnostics& diagnostics) {
  return std::any_of(diagnostics.begin(), diagnostics.end(),
                     [](const Diagnostic& d) { return d.severity == Severity::error; });
}

void sort_by_place(Diagnostics& diagnostics) {
  std::vector<std::string> files;
  const auto rank = [&](const Diagnostic& d) -> std::size_t {
    if (!d.where) return 0;
    const auto at = std::find(files.begin(), files.end(), d.where->file);
    return static_cast<std::size_t>(at - files.begin()) + 1;
  };
  for (const Diagnostic& d : diagnostics) {
    if (d.where && rank(d) == files.size() + 1) files.push_back(d.where->file);
  }
  std::stable_sort(diagnostics.begin(), diagnostics.end(), [&](const Diagnostic& a, const Diagnostic& b) {
    const std::size_t ra = rank(a);
    const std::size_t rb = rank(b);
    if (ra != rb || !a.where || !b.where) return ra < rb;
    if (a.where->line != b.where->line) return a.where->line < b.where->line;
    return a.where->column < b.where->column;
  });
}

std::string to_text(const Diagnostic& d, PrintStyle style) {
  const Colours c = colours(d.severity, style.colour);
  std::string out;
  print_head(out, d.where, name(d.severity), d.message, d.rule, c);
  if (d.where) print_line(out, *d.where, c);
  if (!d.found.empty()) out += fmt::format("    found: {}\n", printable(d.found));
  if (!d.bound.empty()) out += fmt::format("    bound: {}\n", printable(d.bound));
  for (const std::string& clause : d.assumed) out += fmt::format("    assumed: {}\n", printable(clause));
  if (!d.remedy.empty()) out += fmt::format("    remedy: {}\n", printable(d.remedy));
  if (d.second) {
    const Colours note = colours(Severity::note, style.colour);
    print_head(out, d.second->place, "note", d.second->label, "", note);
    print_line(out, d.second->place, note);
  }
  return out;
}

std::string to_text(const Diagnostics& diagnostics, PrintStyle style) {
  std::string out;
  for (const Diagnostic& d : diagnostics) out += to_text(d, style);
  return out;
}

std::optional<std::string> nearest(const std::string& word, const std::vector<std::string>& candidates) {
  constexpr std::size_t longest_compared = 64;
  if (word.empty() || word.size() > longest_compared) return std::nullopt;
  std::optional<std::string> best;
  const std::string folded_word = folded(word);
  // Case counts only between candidates that are equally near without it.
  std::pair<std::size_t, std::size_t> best_distance{4, 0};
  for (const std::string& candidate : candidates) {
    const std::size_t longer = std::max(word.size(), candidate.size());
    const std::size_t allowed = std::min<std::size_t>(3, longer / 3);
    if (longer > longest_compared || longer - std::min(word.size(), candidate.size()) > allowed) continue;
    const std::size_t distance = edit_distance(folded_word, folded(candidate));
    if (distance > allowed) continue;
    const std::pair<std::size_t, std::size_t> found{distance, edit_distance(word, candidate)};
    if (found < best_distance) {
      best_distance = found;
      best = candidate;
    }
  }
  return best;
}

}  // namespace vacuary
