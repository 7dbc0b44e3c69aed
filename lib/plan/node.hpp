// A parsed document as a tree of our own: what the text says and where it says it. No file but
// toml.cpp knows the parser it came from.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "base/base.hpp"

namespace vacuary::plan {

struct Entry;

// One value of the document. `at` covers the value's text (quotes or brackets included); of a
// table that has a header it covers the header, of the whole document it is empty.
struct Node {
  enum class Type { table, array, text, integer, real, boolean, date };
  Type type = Type::table;
  Region at;
  std::string text;    // text: its content; date: as written
  double number = 0;   // integer, real: always finite
  bool truth = false;  // boolean
  // Where the content of a text starts in its region, when every byte of the content stands in the
  // region as it is; none when the text has escapes or line breaks, and an offset means nothing.
  std::optional<std::size_t> content_at;
  std::vector<Entry> entries;  // table: in the order in which they were written
  std::vector<Node> items;     // array

  [[nodiscard]] const Entry* find(const std::string& key) const;
  [[nodiscard]] const char* type_name() const;  // with its article: "a table"
};

struct Entry {
  std::string key;
  Region key_at;
  Node node;
};

// Where and why the text is not TOML; offset counts bytes.
struct SyntaxError {
  std::size_t offset = 0;
  std::string message;
};

// The document, or the first place where it is not TOML. Regions are regions of `source`, though
// `text` (of the same length) is read: a caller that mends the text keeps the places.
// Never throws for what a text holds; nesting is limited so that no recursion can run away.
[[nodiscard]] std::variant<Node, SyntaxError> parse_toml(const std::string& text,
                                                         const std::shared_ptr<const Source>& source);

// A document as far as it could be read, and what was wrong with its syntax.
struct Document {
  Node root;
  Diagnostics diagnostics;
  bool broken = false;  // parts were left out: nothing can be said about what is missing
};

// Best effort: after a syntax error the statement it is in is left out and the rest is read; a
// second error in the same table leaves out the rest of that table. Says which lines were left out.
[[nodiscard]] Document read_document(const std::shared_ptr<const Source>& source);

}  // namespace vacuary::plan
