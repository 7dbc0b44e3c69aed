#include "plan/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>
#include <set>

#include "plan/section.hpp"

namespace vacuary::plan {
namespace {

std::vector<std::string> keys_of(const SectionInfo& section) {
  std::vector<std::string> keys;
  for (const FieldInfo& field : section.fields) keys.push_back(field.key);
  return keys;
}

std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " and " : ", ";
    text += words[i];
  }
  return text;
}

std::string remedy_for(const FieldInfo& missing) {
  if (missing.shape != Shape::quantity) return fmt::format("add '{}'", missing.key);
  return fmt::format("add a line such as {} = \"{}\"", missing.key, example(missing.kind));
}

// User text inside a message, short enough to be read.
std::string quoted(const std::string& text) {
  constexpr std::size_t longest = 60;
  if (text.size() <= longest) return "'" + text + "'";
  std::size_t end = longest;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return "'" + text.substr(0, end) + "...'";
}

// A word of punctuation alone, such as ',', would get lost in a list.
std::vector<std::string> legible(std::vector<std::string> words) {
  const auto is_letter = [](char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || (c & 0x80) != 0;
  };
  for (std::string& word : words) {
    if (std::none_of(word.begin(), word.end(), is_letter)) word = "'" + word + "'";
  }
  return words;
}

}  // namespace

bool Domain::holds(double value) const {
  if (!std::isfinite(value) || value < low || value > high) return false;
  if (low_open && value <= low) return false;
  return !whole || value == std::floor(value);
}

void Reader::complain(const char* rule, const Region& at, std::string message, std::string remedy) {
  constexpr std::size_t most_complaints = 200;
  constexpr std::size_t most_line_text = std::size_t{8} << 20U;  // bytes
  if (diagnostics.size() > most_complaints || line_text_ > most_line_text) return;
  Diagnostic d;
  d.rule = rule;
  if (diagnostics.size() == most_complaints) {
    d.severity = Severity::note;
    message = "there are more complaints than are shown";
    remedy = "mend these first; is this the right file?";
  }
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  d.where = at.place();
  if (d.where && at.length == 0 && at.offset == 0) d.where = Place::whole_file(at.source->name());
  if (d.where) line_text_ += d.where->line_text.size();
  diagnostics.push_back(std::move(d));
}

void Reader::complain(const char* rule, const Region& at, std::string message, std::string remedy,
                      const Region& second, std::string label) {
  const std::size_t before = diagnostics.size();
  complain(rule, at, std::move(message), std::move(remedy));
  if (diagnostics.size() == before) return;
  if (const auto place = second.place()) diagnostics.back().second = SecondPlace{*place, std::move(label)};
}

void Reader::unknown(const char* rule, const Region& at, std::string message, const std::string& word,
                     const std::vector<std::string>& known) {
  std::string remedy;
  constexpr std::size_t longest_word = 80;
  if (const auto near = word.size() > longest_word ? std::nullopt : nearest(word, known)) {
    remedy = fmt::format("did you mean '{}'?", *near);
  } else if (known.empty()) {
    remedy = "none is known there";
  } else {
    remedy = fmt::format("known here: {}", listed(legible(known)));
  }
  complain(rule, at, std::move(message), std::move(remedy));
}

void Reader::missing(const Node& table, const SectionInfo& section, const FieldInfo& field) {
  if (broken) return;
  complain("missing-key", table.at, fmt::format("{} needs '{}': {}", section.title, field.key, field.help),
           remedy_for(field));
}

void Reader::not_one(const Node& table, const SectionInfo& section, std::size_t found) {
  if (found == 0 && (broken || !table.entries.empty())) return;
  complain(found == 0 ? "missing-key" : "wrong-type", table.at,
           fmt::format("{} states {}, exactly one was expected", section.title,
                       found == 0 ? "nothing" : fmt::format("{} things", found)),
           fmt::format("state one of {}", listed(keys_of(section))));
}

void Reader::none_of(const Node& table, const SectionInfo& section) {
  const auto stands = [&](const std::string& key) { return table.find(key) != nullptr; };
  if (broken || section.any_of.empty() || std::any_of(section.any_of.begin(), section.any_of.end(), stands)) {
    return;
  }
  complain("missing-key", table.at,
           fmt::format("{} needs at least one of {}", section.title, listed(section.any_of)),
           "state one or both");
}

void Reader::unknown_keys(const Node& table, const SectionInfo& section) {
  const std::vector<std::string> known = keys_of(section);
  for (const Entry& entry : table.entries) {
    if (std::find(known.begin(), known.end(), entry.key) != known.end()) continue;
    unknown("unknown-key", entry.key_at, fmt::format("{} has no key {}", section.title, quoted(entry.key)),
            entry.key, known);
  }
}

void Reader::wrong_type(const Node& node, const std::string& key, const std::string& expected,
                        std::string remedy) {
  complain("wrong-type", node.at, fmt::format("'{}' is {}, {} was expected", key, node.type_name(), expected),
           std::move(remedy));
}

std::optional<GivenText> Reader::text(const Node& node, const std::string& key) {
  if (node.type != Node::Type::text) {
    wrong_type(node, key, "a text", "write it in double quotes");
    return std::nullopt;
  }
  const bool blank = node.text.find_first_not_of(" \t\r\n") == std::string::npos;
  const bool control = std::any_of(node.text.begin(), node.text.end(), [](char c) {
    return (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\r' && c != '\t') || c == 0x7F;
  });
  if (blank || control) {
    complain("bad-name", node.at,
             fmt::format("'{}' {}", key, blank ? "is empty" : "holds control characters"),
             "write some words that a person can read");
    return std::nullopt;
  }
  return GivenText{node.text, node.at};
}

std::optional<GivenText> Reader::device(const Node& node, const std::string& key) {
  auto given = text(node, key);
  if (!given) return std::nullopt;
  const std::string& word = given->value;
  const bool letters = std::all_of(word.begin(), word.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  });
  if (!letters || word.front() == '-') {
    complain("bad-name", node.at, fmt::format("{} cannot name a device", quoted(word)),
             "use letters, digits, '-' and '_' only: the name becomes part of channel names such as "
             "\"ion.pressure\"");
    return std::nullopt;
  }
  if (word == "chamber" || word == "optic" || word == "run") {
    complain("bad-name", node.at, fmt::format("{} is the first part of built-in channel names", quoted(word)),
             "give the device another name");
    return std::nullopt;
  }
  return given;
}

std::optional<GivenText> Reader::day(const Node& node, const std::string& key) {
  auto given = text(node, key);
  if (!given) return std::nullopt;
  Instant ignored;
  if (given->value.size() == 10 && from_rfc3339(given->value + "T00:00:00Z", ignored)) return given;
  complain("out-of-domain", node.at, fmt::format("'{}' must be a day of the calendar", key),
           "write year, month and day, for example \"2031-02-17\"");
  return std::nullopt;
}

std::optional<Channel> Reader::channel(const GivenText& given, const std::string& key) {
  if (auto channel = parse_channel(given.value)) return channel;
  const std::size_t dot = given.value.rfind('.');
  std::vector<std::string> known;
  for (int i = 0; i <= static_cast<int>(What::step); ++i)
    known.emplace_back(plan::name(static_cast<What>(i)));
  const std::string message = fmt::format("'{}' is {}, which is no channel", key, quoted(given.value));
  if (dot == std::string::npos || dot == 0) {
    complain("bad-name", given.at, message,
             "a channel is \"<device>.<what>\", for example \"chamber.pressure\"");
  } else {
    unknown("bad-name", given.at, message, given.value.substr(dot + 1), known);
  }
  return std::nullopt;
}

std::optional<Unit> Reader::unit(const Node& node, const std::string& key, Kind kind) {
  const auto given = text(node, key);
  if (!given) return std::nullopt;
  auto parsed = parse_unit(given->value, kind);
  if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
    bad_quantity(node, key, *problem);
    return std::nullopt;
  }
  return std::get<Unit>(std::move(parsed));
}

std::optional<bool> Reader::flag(const Node& node, const std::string& key) {
  if (node.type == Node::Type::boolean) return node.truth;
  wrong_type(node, key, "true or false", "write true or false, without quotes");
  return std::nullopt;
}

bool Reader::in_domain(const Region& at, const FieldInfo& field, double si) {
  if (field.domain.holds(si)) return true;
  const char* must = std::isfinite(si) ? field.domain.text : "a finite number";
  complain("out-of-domain", at, fmt::format("'{}' must be {}", field.key, must),
           fmt::format("{}: {}", field.key, field.help));
  return false;
}

std::optional<double> Reader::number(const Node& node, const FieldInfo& field) {
  if (node.type != Node::Type::integer && node.type != Node::Type::real) {
    const char* expected = field.domain.whole ? "a whole number" : "a bare number";
    wrong_type(node, field.key, expected, "write the number without quotes and without a unit");
    return std::nullopt;
  }
  if (!in_domain(node.at, field, node.number)) return std::nullopt;
  return node.number;
}

template <>
std::optional<Given<Count>> Reader::quantity<Count>(const Node& node, const FieldInfo& field) {
  const auto value = number(node, field);
  if (!value) return std::nullopt;
  return Given<Count>{Count::of(*value), Unit{"", Kind::count, 1, 0, FlowBasis::amount}, node.at};
}

std::optional<std::size_t> Reader::choice(const Node& node, const FieldInfo& field) {
  const auto given = text(node, field.key);
  if (!given) return std::nullopt;
  std::vector<std::string> words;
  for (std::size_t i = 0; i < field.choices.size(); ++i) {
    if (given->value == field.choices[i].word) return i;
    words.emplace_back(field.choices[i].word);
  }
  unknown("bad-name", node.at, fmt::format("'{}' cannot be {}", field.key, quoted(given->value)),
          given->value, words);
  return std::nullopt;
}

bool Reader::is_table(const Node& node, const std::string& key) {
  if (node.type == Node::Type::table) return true;
  wrong_type(node, key, "a table", fmt::format("write it as {{ key = value }} or under a header [{}]", key));
  return false;
}

bool Reader::is_list(const Node& node, const std::string& key) {
  if (node.type == Node::Type::array) return true;
  wrong_type(node, key, "a list",
             node.type == Node::Type::table ? fmt::format("write its header as [[{}]]", key)
                                            : "put it in square brackets");
  return false;
}

bool Reader::is_long_enough(const Node& node, const FieldInfo& field) {
  if (node.items.size() >= field.least) return true;
  complain("out-of-domain", node.at,
           fmt::format("'{}' has {} entries, at least {} were expected", field.key, node.items.size(),
                       field.least),
           fmt::format("{}: {}", field.key, field.help));
  return false;
}

bool Reader::is_quantity_text(const Node& node, const std::string& key, Kind kind) {
  if (node.type == Node::Type::text) return true;
  if (node.type == Node::Type::integer || node.type == Node::Type::real) {
    complain("bad-quantity", node.at,
             fmt::format("'{}' is a bare number, a {} with its unit was expected", key, vacuary::name(kind)),
             fmt::format("write it as text with its unit, for example \"{}\"", example(kind)));
  } else {
    wrong_type(node, key, fmt::format("a {}", vacuary::name(kind)),
               fmt::format("write it as text with its unit, for example \"{}\"", example(kind)));
  }
  return false;
}

void Reader::bad_quantity(const Node& node, const std::string& key, const TextProblem& problem) {
  const Region at = node.content_at ? node.at.part(*node.content_at + problem.offset,
                                                   std::max<std::size_t>(problem.length, 1))
                                    : node.at;
  complain("bad-quantity", at, fmt::format("'{}': {}", key, problem.message), problem.remedy);
}

namespace {

template <class Q>
std::variant<SiValue, TextProblem> parse_si(const std::string& text, const GasReference& reference) {
  using Written_ = typename AsText<Q>::type;
  auto parsed = parse<Written_>(text);
  if (auto* problem = std::get_if<TextProblem>(&parsed)) return std::move(*problem);
  auto& written = std::get<Written<Written_>>(parsed);
  return SiValue{si_of(AsText<Q>::resolved(written.value, reference)), std::move(written.unit)};
}

// Of the kinds a channel can have.
std::variant<SiValue, TextProblem> parse_si(const std::string& text, Kind kind,
                                            const GasReference& reference) {
  switch (kind) {
    case Kind::pressure:
      return parse_si<Pressure>(text, reference);
    case Kind::flow:
      return parse_si<MolarFlow>(text, reference);
    case Kind::power:
      return parse_si<Power>(text, reference);
    case Kind::voltage:
      return parse_si<Voltage>(text, reference);
    case Kind::current:
      return parse_si<Current>(text, reference);
    case Kind::energy:
      return parse_si<Energy>(text, reference);
    case Kind::ratio:
      return parse_si<Ratio>(text, reference);
    case Kind::angle:
      return parse_si<Angle>(text, reference);
    case Kind::angular_speed:
      return parse_si<AngularSpeed>(text, reference);
    case Kind::temperature:
      return parse_si<Temperature>(text, reference);
    case Kind::temperature_difference:
      return parse_si<TemperatureDifference>(text, reference);
    default:
      return TextProblem{0, text.size(), "no channel has this kind of quantity", ""};
  }
}

}  // namespace

std::optional<SiValue> Reader::si_value(const Node& node, const std::string& key, Kind kind) {
  if (kind == Kind::count) {
    FieldInfo field;
    field.key = key;
    const auto value = number(node, field);
    if (!value) return std::nullopt;
    return SiValue{*value, Unit{"", Kind::count, 1, 0, FlowBasis::amount}};
  }
  if (!is_quantity_text(node, key, kind)) return std::nullopt;
  auto parsed = parse_si(node.text, kind, reference);
  if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
    bad_quantity(node, key, *problem);
    return std::nullopt;
  }
  return std::get<SiValue>(std::move(parsed));
}

Node fallback_node(const FieldInfo& field) {
  Node node;
  node.text = field.fallback;
  switch (field.shape) {
    case Shape::count:
    case Shape::number:
      node.type = Node::Type::real;
      node.number = std::stod(field.fallback);
      break;
    case Shape::flag:
      node.type = Node::Type::boolean;
      node.truth = field.fallback == "true";
      break;
    default:
      node.type = Node::Type::text;
  }
  return node;
}

const std::vector<Choice>& gases() {
  static const std::vector<Choice> all{{"air", "dry air"}, {"Ar", "argon"},    {"CO2", "carbon dioxide"},
                                       {"H2", "hydrogen"}, {"H2O", "water"},   {"He", "helium"},
                                       {"Kr", "krypton"},  {"N2", "nitrogen"}, {"Ne", "neon"},
                                       {"O2", "oxygen"},   {"Xe", "xenon"}};
  return all;
}

void apply_variants(Reader& reader, const Node& table, const SectionInfo& section, const Variants& variants,
                    const std::string& word) {
  std::set<std::string> restricted;
  const Applies* applies = nullptr;
  for (const Applies& each : variants.words) {
    restricted.insert(each.must.begin(), each.must.end());
    restricted.insert(each.may.begin(), each.may.end());
    if (word == each.word) applies = &each;
  }
  if (applies == nullptr) return;
  const auto in = [](const std::vector<std::string>& keys, const std::string& key) {
    return std::find(keys.begin(), keys.end(), key) != keys.end();
  };
  for (const Entry& entry : table.entries) {
    if (restricted.count(entry.key) == 0 || in(applies->must, entry.key) || in(applies->may, entry.key))
      continue;
    std::vector<std::string> takes = applies->must;
    takes.insert(takes.end(), applies->may.begin(), applies->may.end());
    reader.complain(
        "unknown-key", entry.key_at,
        fmt::format("'{}' does not go with {} = \"{}\"", entry.key, variants.choice, word),
        takes.empty() ? "leave it out" : fmt::format("leave it out; this one takes {}", listed(takes)));
  }
  for (const FieldInfo& field : section.fields) {
    if (reader.broken || !in(applies->must, field.key) || table.find(field.key) != nullptr) continue;
    reader.complain("missing-key", table.at,
                    fmt::format("{} with {} = \"{}\" needs '{}': {}", section.title, variants.choice, word,
                                field.key, field.help),
                    remedy_for(field));
  }
}

void unique_names(Reader& reader, const std::vector<const GivenText*>& names, const char* what) {
  std::map<std::string, const GivenText*> first;
  for (const GivenText* name : names) {
    if (name->at.source == nullptr) continue;
    const auto [found, is_new] = first.emplace(name->value, name);
    if (is_new) continue;
    reader.complain("duplicate-name", name->at,
                    fmt::format("there is a {} {} already", what, quoted(name->value)),
                    "give each its own name", found->second->at, "first here");
  }
}

}  // namespace vacuary::plan
