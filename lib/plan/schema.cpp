// JSON Schemas made from the tables of fields. They keep to what an editor's TOML tool and a full
// validator both enforce: types, required and allowed keys, patterns, enumerations, if/then.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "plan/fields.hpp"

namespace vacuary::plan {
namespace {

std::string quote(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (c == '\t') {
      out += "\\t";
    } else {
      out += c;
    }
  }
  return out + '"';
}

// Members of an object or items of an array, indented when written out.
class Block {
 public:
  void add(const std::string& key, std::string value) {
    members_.push_back(quote(key) + ": " + std::move(value));
  }
  void item(std::string value) { members_.push_back(std::move(value)); }
  [[nodiscard]] bool empty() const { return members_.empty(); }
  [[nodiscard]] std::string object() const { return text('{', '}'); }
  [[nodiscard]] std::string array() const { return text('[', ']'); }

 private:
  [[nodiscard]] std::string text(char open, char close) const {
    std::string inside;
    for (const std::string& member : members_) inside += (inside.empty() ? "" : ",\n") + member;
    constexpr std::size_t short_enough = 90;
    if (inside.find('\n') == std::string::npos && inside.size() < short_enough) return open + inside + close;
    std::string indented = std::string(1, open) + "\n  ";
    for (const char c : inside) indented += c == '\n' ? std::string("\n  ") : std::string(1, c);
    return indented + '\n' + close;
  }

  std::vector<std::string> members_;
};

std::string words(const std::vector<std::string>& all) {
  Block block;
  for (const std::string& word : all) block.item(quote(word));
  return block.array();
}

std::string escaped(const std::string& symbol) {
  return symbol == "." || symbol == "+" || symbol == "*" ? "\\" + symbol : symbol;
}

// Any of the units that are read, joined for a pattern; longest first, so that "mbar" is not "m".
std::string alternatives(const std::set<std::string>& symbols) {
  std::vector<std::string> sorted(symbols.begin(), symbols.end());
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const std::string& a, const std::string& b) { return a.size() > b.size(); });
  std::string text;
  for (const std::string& symbol : sorted) text += (text.empty() ? "" : "|") + escaped(symbol);
  return text;
}

constexpr const char* exponent = "([eE][-+]?[0-9]+)?";
constexpr const char* positive_number = "(0*[1-9][0-9]*(\\.[0-9]*)?|0*\\.0*[1-9][0-9]*)";
constexpr const char* plain_number = "([0-9]+(\\.[0-9]*)?|\\.[0-9]+)";

std::string number_pattern(const Domain& domain) {
  if (domain.low >= 0 && domain.low_open) return fmt::format("\\+?{}{}", positive_number, exponent);
  if (domain.low >= 0) return fmt::format("\\+?{}{}", plain_number, exponent);
  return fmt::format("[-+]?{}{}", plain_number, exponent);
}

// Number, blanks, unit. A unit is one of those of the kind, or several symbols joined; that the
// joined ones have the right dimension a pattern cannot say.
std::string quantity_pattern(Kind kind, const Domain& domain) {
  std::set<std::string> own;
  std::set<std::string> all;
  for (const UnitSymbol& symbol : unit_symbols()) {
    if (std::holds_alternative<Unit>(parse_unit(symbol.symbol, kind))) own.insert(symbol.symbol);
    if (symbol.kind != Kind::ratio && symbol.kind != Kind::count && symbol.offset == 0)
      all.insert(symbol.symbol);
  }
  const bool joined =
      kind != Kind::ratio && kind != Kind::temperature && kind != Kind::temperature_difference;
  std::string unit = alternatives(own);
  if (joined) {
    const std::string any = alternatives(all);
    unit += fmt::format("{0}({1})(\\^?-?[1-9])?([ */]+({1})(\\^?-?[1-9])?)+|({1})\\^?-?[2-9]",
                        unit.empty() ? "" : "|", any);
  }
  const char* blanks = kind == Kind::ratio ? "[ \\t]*" : "[ \\t]+";
  const bool celsius = kind == Kind::temperature;  // "-5 degC" is above absolute zero
  return fmt::format("^[ \\t]*{}{}({})[ \\t]*$", number_pattern(celsius ? domain::any : domain), blanks,
                     unit);
}

std::string definition_name(const FieldInfo& field) {
  std::string text = name(field.kind);
  for (char& c : text) {
    if (c == ' ') c = '_';
  }
  if (field.kind == Kind::temperature || field.domain.low < 0) return text;
  return (field.domain.low_open ? "positive_" : "not_negative_") + text;
}

class Schema {
 public:
  [[nodiscard]] std::string of(const Format& format) {
    Block properties = members(*format.root, format);
    std::vector<std::string> required = required_of(*format.root);
    required.insert(required.begin(), "format");
    Block root;
    root.add("$schema", quote("https://json-schema.org/draft/2020-12/schema"));
    root.add("title", quote(fmt::format("{} {}", format.name, format.version)));
    root.add("description", quote(format.help));
    root.add("type", quote("object"));
    root.add("additionalProperties", "false");
    root.add("required", words(required));
    root.add("properties", properties.object());
    root.add("$defs", definitions().object());
    return root.object() + "\n";
  }

 private:
  static std::vector<std::string> required_of(const SectionInfo& section) {
    std::vector<std::string> keys;
    for (const FieldInfo& field : section.fields) {
      if (field.need == Need::required) keys.push_back(field.key);
    }
    return keys;
  }

  Block members(const SectionInfo& section, const Format& format) {
    Block block;
    for (const FieldInfo& field : section.fields) block.add(field.key, value(field, format));
    return block;
  }

  std::string table(const SectionInfo& section, const std::string& help, const Format& format) {
    Block block;
    block.add("type", quote("object"));
    block.add("description", quote(help));
    block.add("additionalProperties", "false");
    const auto required = required_of(section);
    if (!required.empty()) block.add("required", words(required));
    if (section.one_of) {
      block.add("minProperties", "1");
      block.add("maxProperties", "1");
    }
    if (!section.any_of.empty()) {
      Block any;
      for (const std::string& key : section.any_of)
        any.item(fmt::format("{{\"required\": [{}]}}", quote(key)));
      block.add("anyOf", any.array());
    }
    block.add("properties", members(section, format).object());
    for (const Variants& each : variants()) {
      if (each.section == &section) block.add("allOf", conditions(each).array());
    }
    return block.object();
  }

  // One if/then per word of the deciding key: what must stand with it, what must not.
  static Block conditions(const Variants& variants) {
    std::set<std::string> restricted;
    std::set<std::string> ends;
    for (const Applies& word : variants.words) {
      restricted.insert(word.must.begin(), word.must.end());
      restricted.insert(word.may.begin(), word.may.end());
      ends.insert(word.ends.begin(), word.ends.end());
    }
    Block all;
    for (const Applies& word : variants.words) {
      Block none;
      for (const std::string& key : without(without(restricted, word.must), word.may)) none.add(key, "false");
      Block no_end;
      for (const std::string& key : without(ends, word.ends)) no_end.add(key, "false");
      if (!no_end.empty()) none.add("end", fmt::format("{{\"properties\": {}}}", no_end.object()));
      Block then;
      if (!word.must.empty()) then.add("required", words(word.must));
      if (!none.empty()) then.add("properties", none.object());
      if (then.empty()) continue;
      Block one;
      one.add("if", fmt::format("{{\"required\": [{0}], \"properties\": {{{0}: {{\"const\": {1}}}}}}}",
                                quote(variants.choice), quote(word.word)));
      one.add("then", then.object());
      all.item(one.object());
    }
    return all;
  }

  static std::set<std::string> without(std::set<std::string> all, const std::vector<std::string>& some) {
    for (const std::string& key : some) all.erase(key);
    return all;
  }

  static std::string text(const std::string& help, const std::string& pattern) {
    Block block;
    block.add("type", quote("string"));
    block.add("description", quote(help));
    block.add("pattern", quote(pattern));
    return block.object();
  }

  static std::string list(const std::string& help, const std::string& items, std::size_t least) {
    Block block;
    block.add("type", quote("array"));
    block.add("description", quote(help));
    if (least > 0) block.add("minItems", fmt::format("{}", least));
    block.add("items", items);
    return block.object();
  }

  static std::string number(const FieldInfo& field, const std::string& help) {
    Block block;
    block.add("type", quote(field.domain.whole ? "integer" : "number"));
    block.add("description", quote(help));
    if (field.domain.low > -1e300) {
      block.add(field.domain.low_open ? "exclusiveMinimum" : "minimum",
                fmt::format("{:.0f}", field.domain.low));
    }
    if (field.domain.high < 1e300) block.add("maximum", fmt::format("{:.0f}", field.domain.high));
    return block.object();
  }

  static std::string map(const std::string& help, const char* type) {
    Block block;
    block.add("type", quote("object"));
    block.add("description", quote(help));
    block.add("additionalProperties", fmt::format("{{\"type\": \"{}\"}}", type));
    return block.object();
  }

  static std::string choice(const FieldInfo& field, const std::string& help) {
    Block block;
    block.add("type", quote("string"));
    std::string choices;
    std::vector<std::string> all;
    for (const Choice& each : field.choices) {
      all.emplace_back(each.word);
      choices += fmt::format("{}{}: {}", choices.empty() ? "" : "; ", each.word, each.help);
    }
    block.add("description", quote(fmt::format("{} ({})", help, choices)));
    block.add("enum", words(all));
    return block.object();
  }

  std::string quantity(const FieldInfo& field, const std::string& help) {
    const std::string definition = definition_name(field);
    used_.emplace(definition, field);
    Block block;
    block.add("$ref", quote("#/$defs/" + definition));
    block.add("description", quote(fmt::format("{} (such as \"{}\")", help, example(field.kind))));
    return block.object();
  }

  std::string device(const std::string& help) {
    Block block;
    block.add("type", quote("string"));
    block.add("description", quote(help));
    block.add("pattern", quote("^[A-Za-z0-9_][A-Za-z0-9_-]*$"));
    block.add("not", R"({"enum": ["chamber", "optic", "run"]})");
    return block.object();
  }

  static std::string channel(const std::string& help) {
    std::string whats;
    for (int i = 0; i <= static_cast<int>(What::step); ++i) {
      whats += (i == 0 ? "" : "|") + std::string(name(static_cast<What>(i)));
    }
    return text(help, fmt::format("^.+\\.({})$", whats));
  }

  static std::string channel_value(const std::string& help) {
    Block block;
    block.add("type", words({"string", "number"}));
    block.add("description", quote(help));
    block.add("pattern", quote(fmt::format("^[ \\t]*[-+]?{}{}[ \\t]*[^ \\t].*$", plain_number, exponent)));
    return block.object();
  }

  std::string value(const FieldInfo& field, const Format& format) {
    std::string help = field.help;
    if (!field.fallback.empty()) help += fmt::format("; left out: {}", field.fallback);
    switch (field.shape) {
      case Shape::format:
        return fmt::format("{{\"description\": {}, \"const\": {}}}", quote(help),
                           quote(fmt::format("{} {}", format.name, format.version)));
      case Shape::text:
        return text(help, "[^ \\t\\r\\n]");
      case Shape::any_unit:
        return text(help, "[^ \\t\\r\\n]");
      case Shape::day:
        return text(help, "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$");
      case Shape::device:
        return device(help);
      case Shape::channel:
        return channel(help);
      case Shape::channel_value:
        return channel_value(help);
      case Shape::quantity:
        return quantity(field, help);
      case Shape::count:
      case Shape::number:
        return number(field, help);
      case Shape::flag:
        return fmt::format("{{\"type\": \"boolean\", \"description\": {}}}", quote(help));
      case Shape::choice:
        return choice(field, help);
      case Shape::texts:
        return list(help, R"({"type": "string", "pattern": "[^ \\t\\r\\n]"})", 0);
      case Shape::numbers:
        return list(help, R"({"type": "number"})", 0);
      case Shape::table:
        return table(*field.section, help, format);
      case Shape::tables:
        return list(help, table(*field.section, field.section->help, format), field.least);
      case Shape::name_map:
        return map(help, "string");
      case Shape::number_map:
        return map(help, "number");
    }
    return "{}";
  }

  Block definitions() const {
    Block block;
    for (const auto& [definition, field] : used_) {
      Block one;
      one.add("type", quote("string"));
      one.add("pattern", quote(quantity_pattern(field.kind, field.domain)));
      block.add(definition, one.object());
    }
    return block;
  }

  std::map<std::string, FieldInfo> used_;
};

}  // namespace

std::string json_schema(const Format& format) { return Schema().of(format); }

}  // namespace vacuary::plan
