#include "plan/strip_csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdlib>

namespace vacuary::plan {
namespace {

struct Cell {
  std::string text;
  Region at;
};
using Row = std::vector<Cell>;

struct Key {
  const char* name;
  bool point;  // of a point, else of its exposure
  bool required;
  bool quantity;  // takes a unit
};
constexpr std::array<Key, 13> keys{{{"radius", true, true, true},
                                    {"thickness", true, true, true},
                                    {"uncertainty", true, true, true},
                                    {"name", false, false, false},
                                    {"shield", false, false, false},
                                    {"target_serial", false, true, false},
                                    {"gas", false, true, false},
                                    {"date", false, true, false},
                                    {"energy", false, true, true},
                                    {"energy_used", false, true, true},
                                    {"pressure", false, true, true},
                                    {"voltage", false, true, true},
                                    {"turns", false, true, false}}};

struct Column {
  const Key* key = nullptr;
  std::string unit;
};

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

Diagnostic complaint(const char* rule, const Region& at, std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = rule;
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  d.where = at.place();
  return d;
}

// Cells of RFC 4180 with their places.
class Cells {
 public:
  explicit Cells(const std::shared_ptr<const Source>& source) : source_(source), text_(source->bytes()) {
    if (text_.rfind("\xEF\xBB\xBF", 0) == 0) at_ = 3;
  }
  [[nodiscard]] bool done() const { return at_ >= text_.size(); }
  // The next row; empty when the line is a comment or blank. False: a quote that never ends.
  [[nodiscard]] bool next(Row& row, Diagnostics& diagnostics);

 private:
  [[nodiscard]] bool at_line_end() const { return done() || text_[at_] == '\n' || text_[at_] == '\r'; }
  void skip_line_end() {
    if (!done() && text_[at_] == '\r') ++at_;
    if (!done() && text_[at_] == '\n') ++at_;
  }
  [[nodiscard]] bool cell(Cell& cell);

  std::shared_ptr<const Source> source_;
  const std::string& text_;
  std::size_t at_ = 0;
};

bool Cells::cell(Cell& cell) {
  const std::size_t start = at_;
  bool quoted = false;
  while (!done() && (quoted || (text_[at_] != ',' && !at_line_end()))) {
    if (text_[at_] != '"') {
      cell.text += text_[at_++];
      continue;
    }
    const bool doubled = quoted && at_ + 1 < text_.size() && text_[at_ + 1] == '"';
    if (doubled) cell.text += '"';
    if (!doubled) quoted = !quoted;
    at_ += doubled ? 2 : 1;
  }
  cell.text = trimmed(cell.text);
  cell.at = {source_, start, std::max<std::size_t>(at_ - start, 1)};
  return !quoted;
}

bool Cells::next(Row& row, Diagnostics& diagnostics) {
  row.clear();
  if (!done() && text_[at_] == '#') {
    while (!at_line_end()) ++at_;
  }
  while (!at_line_end()) {
    Cell one;
    if (!cell(one)) {
      diagnostics.push_back(complaint("syntax", {source_, one.at.offset, 1}, "this quote is never closed",
                                      "close it, or leave quotes out"));
      return false;
    }
    row.push_back(std::move(one));
    if (done() || text_[at_] != ',') break;
    ++at_;
    if (at_line_end()) row.push_back({"", {source_, at_ - 1, 1}});
  }
  skip_line_end();
  const bool blank = std::all_of(row.begin(), row.end(), [](const Cell& c) { return c.text.empty(); });
  if (blank) row.clear();
  return true;
}

const Key* find_key(const std::string& name) {
  const auto found = std::find_if(keys.begin(), keys.end(), [&](const Key& k) { return name == k.name; });
  return found == keys.end() ? nullptr : &*found;
}

// "thickness [nm]" to key and unit; a complaint when no key is called so.
Column column_of(const Cell& header, Diagnostics& diagnostics) {
  Column column;
  std::string name = header.text;
  if (const auto bracket = name.find('['); bracket != std::string::npos) {
    const auto end = name.find(']', bracket);
    column.unit = trimmed(name.substr(bracket + 1, end == std::string::npos ? end : end - bracket - 1));
    name = trimmed(name.substr(0, bracket));
  }
  column.key = find_key(name);
  if (column.key != nullptr && (column.key->quantity || column.unit.empty())) return column;
  std::vector<std::string> known;
  for (const Key& key : keys) known.emplace_back(key.name);
  const auto near = nearest(name, known);
  diagnostics.push_back(column.key != nullptr
                            ? complaint("wrong-type", header.at, fmt::format("'{}' takes no unit", name),
                                        "leave the bracket out")
                            : complaint("unknown-key", header.at,
                                        fmt::format("a strip has no column '{}'", name),
                                        near ? fmt::format("did you mean '{}'?", *near)
                                             : fmt::format("columns are {}", fmt::join(known, ", "))));
  return column;
}

std::vector<Column> columns_of(const Row& header, Diagnostics& diagnostics) {
  std::vector<Column> columns;
  for (const Cell& cell : header) {
    Column column = column_of(cell, diagnostics);
    for (const Column& before : columns) {
      if (column.key != nullptr && before.key == column.key) {
        diagnostics.push_back(complaint("duplicate-name", cell.at,
                                        fmt::format("there are two columns '{}'", column.key->name),
                                        "keep one of them"));
      }
    }
    columns.push_back(std::move(column));
  }
  for (const Key& key : keys) {
    const bool there =
        std::any_of(columns.begin(), columns.end(), [&](const Column& c) { return c.key == &key; });
    if (there || !key.required) continue;
    Region whole = header.front().at;
    whole.length = header.back().at.offset + header.back().at.length - whole.offset;
    diagnostics.push_back(
        complaint("missing-key", whole, fmt::format("the strip has no column '{}'", key.name),
                  fmt::format("add a column {}", key.quantity ? std::string(key.name) + " with its unit"
                                                              : std::string(key.name))));
  }
  return columns;
}

Node value_of(const Cell& cell, const Column& column) {
  Node node;
  node.at = cell.at;
  node.type = Node::Type::text;
  node.text = cell.text;
  if (column.key->quantity) {
    if (!column.unit.empty()) node.text += " " + column.unit;
    return node;
  }
  if (std::string(column.key->name) != "turns") return node;
  double number = 0;
  const char* end = cell.text.data() + cell.text.size();
  const auto [stopped, error] = std::from_chars(cell.text.data(), end, number);
  if (error == std::errc() && stopped == end) {
    node.type = Node::Type::real;
    node.number = number;
  }
  return node;
}

Node text_node(const std::string& text, const Region& at) {
  Node node;
  node.type = Node::Type::text;
  node.text = text;
  node.at = at;
  return node;
}

Node list_node(const Region& at) {
  Node node;
  node.type = Node::Type::array;
  node.at = at;
  return node;
}

bool left_out(const Cell& cell, const Key& key) {
  return !key.required && (cell.text.empty() || (std::string(key.name) == "shield" && cell.text == "none"));
}

// The exposure whose cells are those of `shot`, added when it is new.
Node& exposure_for(const Node& shot, Node& exposures) {
  for (Node& each : exposures.items) {
    const auto same = [&](const Entry& e) {
      const Entry* there = each.find(e.key);
      return there != nullptr && there->node.text == e.node.text && there->node.number == e.node.number;
    };
    if (each.entries.size() == shot.entries.size() + 1 &&
        std::all_of(shot.entries.begin(), shot.entries.end(), same))
      return each;
  }
  exposures.items.push_back(shot);
  exposures.items.back().entries.push_back({"points", shot.at, list_node(shot.at)});
  return exposures.items.back();
}

void take(const Row& row, const std::vector<Column>& columns, Node& exposures) {
  Node shot;
  Node point;
  shot.at = point.at = row.front().at;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const Key& key = *columns[i].key;
    if (left_out(row[i], key)) continue;
    (key.point ? point : shot).entries.push_back({key.name, row[i].at, value_of(row[i], columns[i])});
  }
  exposure_for(shot, exposures).entries.back().node.items.push_back(std::move(point));
}

}  // namespace

Document read_strip_csv(const std::shared_ptr<const Source>& source, const std::string& name) {
  Document document;
  Cells cells(source);
  const Region top{source, 0, 0};
  std::vector<Column> columns;
  Node exposures = list_node(top);
  Row row;
  while (!cells.done()) {
    if (!cells.next(row, document.diagnostics)) {
      document.broken = true;
      break;
    }
    if (row.empty()) continue;
    if (columns.empty()) {
      columns = columns_of(row, document.diagnostics);
      document.broken = !document.diagnostics.empty();
      if (document.broken) break;
    } else if (row.size() != columns.size()) {
      document.diagnostics.push_back(
          complaint("syntax", row.front().at,
                    fmt::format("the row has {} cells, the header {}", row.size(), columns.size()),
                    "give every row a cell for every column"));
    } else {
      take(row, columns, exposures);
    }
  }
  document.root.at = top;
  document.root.entries.push_back({"name", top, text_node(name.empty() ? "strip" : name, top)});
  document.root.entries.push_back({"exposure", top, std::move(exposures)});
  return document;
}

}  // namespace vacuary::plan
