// One diagnostic type and one printer for everything vacuary has to say.
//
// A diagnostic is a plain value: it owns its text and outlives the file it speaks of. The
// library collects diagnostics and returns them in source order; it never prints and never exits.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace vacuary {

enum class Severity { error, warning, note };
[[nodiscard]] const char* name(Severity severity);

// A place in a text file as a person counts: line and column start at 1, columns count code
// points (a tab is one). `width` is how many code points the caret underlines, at least 1.
// `line_text` is the whole line without its line break, or empty when it is not known; the
// printer shortens long lines around the caret. line == 0: the file as a whole.
struct Place {
  std::string file;
  std::uint64_t line = 0;
  std::uint32_t column = 0;
  std::uint32_t width = 1;
  std::string line_text;

  [[nodiscard]] static Place whole_file(std::string file);
};

struct SecondPlace {
  Place place;
  std::string label;  // "first set here"
};

// rule:    plain kebab-case name that says what is wrong, for example base-pressure-out-of-reach.
// message: what was found and what was expected, one sentence, no final line break.
// found, bound: the computed value and the bound it was held against, as printed quantities,
//          present where a rule computed something ("412 min +/- 60 min", "at most 360 min").
// assumed: what the finding took for granted, one clause each.
// remedy:  what the user can do about it.
struct Diagnostic {
  Severity severity = Severity::error;
  std::string rule;
  std::string message;
  std::optional<Place> where;
  std::optional<SecondPlace> second;
  std::string found;
  std::string bound;
  std::vector<std::string> assumed;
  std::string remedy;
};

using Diagnostics = std::vector<Diagnostic>;

[[nodiscard]] bool has_errors(const Diagnostics& diagnostics);

// Sorts by file (in order of first appearance), line and column; stable otherwise.
void sort_by_place(Diagnostics& diagnostics);

struct PrintStyle {
  bool colour = false;
};

// `text` with nothing in it that drives a terminal: control characters and broken bytes become '?',
// a tab one blank; line breaks stay when they are asked for.
[[nodiscard]] std::string printable(const std::string& text, bool keep_line_breaks = false);

// The one printer. Form of one diagnostic:
//   recipe.toml:12:9: error: message [rule]
//      12 | power = "38 kw"
//         |             ^~
//     found: ...        (when present)
//     bound: ...        (when present)
//     assumed: ...      (one line each)
//     remedy: ...       (when present)
//   other.toml:3:1: note: label
//       3 | ...
// Control characters in quoted user text are shown as '?', so that a hostile file cannot drive
// the terminal. Ends with a line break.
[[nodiscard]] std::string to_text(const Diagnostic& diagnostic, PrintStyle style = {});
[[nodiscard]] std::string to_text(const Diagnostics& diagnostics, PrintStyle style = {});

// The candidate nearest to `word` by edit distance (case-folded, transpositions count one), if
// near enough to be a likely slip of the pen: at most one third of the longer word, at most 3.
[[nodiscard]] std::optional<std::string> nearest(const std::string& word,
                                                 const std::vector<std::string>& candidates);

}  // namespace vacuary
