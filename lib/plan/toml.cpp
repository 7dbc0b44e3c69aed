// The one file that knows toml++. What leaves it is a tree of Nodes whose entries stand in the order
// in which they were written (toml++ iterates alphabetically) and whose regions count bytes (toml++
// counts lines and code points).
#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdint>
#include <string_view>
#include <utility>

#include "plan/node.hpp"

// The shared library of the distribution is built with exceptions; this file wants values.
#undef TOML_SHARED_LIB
#undef TOML_HEADER_ONLY
#define TOML_HEADER_ONLY 1
#define TOML_EXCEPTIONS 0
// Some damaged texts (a header "[=") run into its assertions, which a release build would turn into
// undefined behaviour. Here they are always checked, and end the parsing.
#undef NDEBUG
namespace vacuary::plan {
namespace {
struct ParserConfused {};
[[noreturn]] void parser_confused() { throw ParserConfused{}; }
}  // namespace
}  // namespace vacuary::plan
#define TOML_ASSERT(expr) (static_cast<bool>(expr) ? void() : vacuary::plan::parser_confused())
#define TOML_ENABLE_FORMATTERS 0
#define TOML_MAX_NESTED_VALUES 32
#include <toml++/toml.h>

namespace vacuary::plan {
namespace {

constexpr std::size_t most_key_parts = 16;
constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

// Line and column (code points, from 1) to byte offset without a search per value.
class Offsets {
 public:
  explicit Offsets(const std::string& text) : text_(text) {
    const std::size_t start = text.compare(0, byte_order_mark.size(), byte_order_mark) == 0 ? 3 : 0;
    lines_.push_back(0);
    for (std::size_t i = start; i < text.size(); ++i) {
      if ((static_cast<unsigned char>(text[i]) & 0xC0U) == 0x80U) continue;
      points_.push_back(static_cast<std::uint32_t>(i));
      if (text[i] == '\n') lines_.push_back(points_.size());
    }
  }

  [[nodiscard]] std::size_t of(const toml::source_position& position) const {
    const std::size_t line = position.line;
    if (line == 0 || line > lines_.size()) return text_.size();
    const std::size_t point = lines_[line - 1] + position.column - 1;
    return position.column == 0 || point >= points_.size() ? text_.size() : points_[point];
  }

 private:
  const std::string& text_;
  std::vector<std::uint32_t> points_;  // byte offset of every code point
  std::vector<std::size_t> lines_;     // index into points_ of every line's first
};

class Converter {
 public:
  Converter(const std::string& text, const std::shared_ptr<const Source>& source)
      : text_(text), source_(source), offsets_(text) {}

  [[nodiscard]] std::size_t offset(const toml::source_position& position) const {
    return offsets_.of(position);
  }

  [[nodiscard]] Node node(const toml::node& from) const {
    Node to;
    to.at = region(from.source());
    if (const auto* table = from.as_table()) {
      fill_table(*table, to);
    } else if (const auto* array = from.as_array()) {
      to.type = Node::Type::array;
      to.items.reserve(array->size());
      for (const toml::node& item : *array) to.items.push_back(node(item));
    } else {
      fill_value(from, to);
    }
    return to;
  }

 private:
  [[nodiscard]] Region region(const toml::source_region& from) const {
    const std::size_t begin = offsets_.of(from.begin);
    return {source_, begin, std::max(offsets_.of(from.end), begin) - begin};
  }

  void fill_table(const toml::table& table, Node& to) const {
    to.type = Node::Type::table;
    // toml++ ends a header's region before its last bracket.
    while (to.at.offset < text_.size() && text_[to.at.offset] == '[' &&
           to.at.offset + to.at.length < text_.size() && text_[to.at.offset + to.at.length] == ']') {
      ++to.at.length;
    }
    to.entries.reserve(table.size());
    for (const auto& [key, value] : table) {
      to.entries.push_back({std::string(key.str()), region(key.source()), node(value)});
    }
    std::sort(to.entries.begin(), to.entries.end(),
              [](const Entry& a, const Entry& b) { return a.key_at.offset < b.key_at.offset; });
  }

  void fill_value(const toml::node& from, Node& to) const {
    if (const auto* text = from.as_string()) {
      to.type = Node::Type::text;
      to.text = text->get();
      const std::size_t quotes = to.at.length >= to.text.size() + 6 ? 3 : 1;
      if (text_.compare(std::min(to.at.offset + quotes, text_.size()), to.text.size(), to.text) == 0 &&
          to.text.find('\n') == std::string::npos) {
        to.content_at = quotes;
      }
    } else if (const auto* integer = from.as_integer()) {
      to.type = Node::Type::integer;
      to.number = static_cast<double>(integer->get());
    } else if (const auto* real = from.as_floating_point()) {
      to.type = Node::Type::real;
      to.number = real->get();
    } else if (const auto* truth = from.as_boolean()) {
      to.type = Node::Type::boolean;
      to.truth = truth->get();
    } else {
      to.type = Node::Type::date;
      to.text = text_.substr(to.at.offset, to.at.length);
    }
  }

  const std::string& text_;
  const std::shared_ptr<const Source>& source_;
  Offsets offsets_;
};

// The offset behind the string that starts at `i`. An open one ends with its line, or with the text.
std::size_t behind_string(const std::string& text, std::size_t i) {
  const char quote = text[i];
  const bool many_lines = text.compare(i, 3, std::string(3, quote)) == 0;
  for (i += many_lines ? 3 : 1; i < text.size(); ++i) {
    if (text[i] == '\\' && quote == '"') {
      ++i;
    } else if (!many_lines && (text[i] == quote || text[i] == '\n')) {
      return i + 1;
    } else if (many_lines && text.compare(i, 3, std::string(3, quote)) == 0) {
      return i + 3;
    }
  }
  return text.size();
}

// What follows the brackets of a header at `i` is no key.
bool bad_header(const std::string& text, std::size_t i) {
  i = text.find_first_not_of("[ \t", i);
  if (i == std::string::npos) return true;
  const auto c = static_cast<unsigned char>(text[i]);
  return std::isalnum(c) == 0 && std::string_view("_-\"'").find(text[i]) == std::string_view::npos;
}

// toml++ limits how deep values nest, but not how many parts a dotted key has; the tables those
// parts make would be destroyed by recursion.
std::optional<SyntaxError> bad_key(const std::string& text) {
  std::size_t dots = 0;
  int open = 0;  // brackets of lists: inside them no header can stand
  bool line_start = true;
  for (std::size_t i = 0; i < text.size();) {
    const char c = text[i];
    if (line_start && open <= 0 && c == '[' && bad_header(text, i)) {
      return SyntaxError{i, "a table's name was expected after this bracket"};
    }
    line_start = c == '\n' || (line_start && (c == ' ' || c == '\t'));
    open += c == '[' ? 1 : c == ']' ? -1 : 0;
    if (c == '"' || c == '\'') {
      i = behind_string(text, i);
      continue;
    }
    if (c == '#') {
      i = std::min(text.find('\n', i), text.size());
      continue;
    }
    if (c == '.' && ++dots >= most_key_parts) return SyntaxError{i, "this key has too many parts"};
    if (std::string_view("=,[]{}\n").find(c) != std::string_view::npos) dots = 0;
    ++i;
  }
  return std::nullopt;
}

// What the parser says, in plain words where its own are not.
std::string plain(std::string_view description, const std::string& text, std::size_t offset) {
  const auto says = [&](std::string_view words) { return description.find(words) != std::string_view::npos; };
  if (says("control characters") && offset < text.size() && (text[offset] == '\n' || text[offset] == '\r')) {
    return "this text is not closed on its line";
  }
  if (says("could not determine value type")) return "what follows is no text, number, list or table";
  if (says("maximum nested value depth")) return "lists and tables are nested too deep";
  if (says("encountered end-of-file")) return "the file ends in the middle of this";
  constexpr std::string_view preamble = "Error while parsing ";
  if (description.substr(0, preamble.size()) != preamble) return std::string(description);
  const std::size_t colon = description.find(": ");
  return std::string(description.substr(colon == std::string_view::npos ? preamble.size() : colon + 2));
}

bool has_non_finite(const Node& node, std::size_t& offset) {
  if (node.type == Node::Type::real && !std::isfinite(node.number)) {
    offset = node.at.offset;
    return true;
  }
  return std::any_of(node.items.begin(), node.items.end(),
                     [&](const Node& item) { return has_non_finite(item, offset); }) ||
         std::any_of(node.entries.begin(), node.entries.end(),
                     [&](const Entry& entry) { return has_non_finite(entry.node, offset); });
}

std::variant<Node, SyntaxError> parse_checked(const std::string& text,
                                              const std::shared_ptr<const Source>& source) {
  if (auto error = bad_key(text)) return *error;
  const toml::parse_result parsed = toml::parse(std::string_view(text), std::string_view{});
  const Converter converter(text, source);
  if (!parsed) {
    const std::size_t offset = converter.offset(parsed.error().source().begin);
    return SyntaxError{offset, plain(parsed.error().description(), text, offset)};
  }
  Node root = converter.node(parsed.table());
  root.at = {source, 0, 0};
  std::size_t offset = 0;
  if (has_non_finite(root, offset)) return SyntaxError{offset, "inf and nan are not values a plan can hold"};
  return root;
}

}  // namespace

std::variant<Node, SyntaxError> parse_toml(const std::string& text,
                                           const std::shared_ptr<const Source>& source) {
  try {
    return parse_checked(text, source);
  } catch (const ParserConfused&) {
    return SyntaxError{0, "this text is so damaged that the TOML parser gave up, without saying where"};
  }
}

const Entry* Node::find(const std::string& key) const {
  const auto found =
      std::find_if(entries.begin(), entries.end(), [&](const Entry& entry) { return entry.key == key; });
  return found == entries.end() ? nullptr : &*found;
}

const char* Node::type_name() const {
  switch (type) {
    case Type::table:
      return "a table";
    case Type::array:
      return "a list";
    case Type::text:
      return "a text";
    case Type::integer:
      return "a whole number";
    case Type::real:
      return "a number";
    case Type::boolean:
      return "true or false";
    case Type::date:
      return "a date";
  }
  return "nothing";
}

}  // namespace vacuary::plan
