// What loading has in common: complaints with their place, and the reading of single values.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "plan/fields.hpp"
#include "plan/node.hpp"

namespace vacuary::plan {

// A value of a kind that only the file decides, in SI.
struct SiValue {
  double si = 0;
  Unit unit;
};

class Reader {
 public:
  GasReference reference = GasReference::usual();  // resolves the flows that are read
  bool broken = false;  // a syntax error left parts out: say nothing about what is missing
  Diagnostics diagnostics;

  void complain(const char* rule, const Region& at, std::string message, std::string remedy = "");
  void complain(const char* rule, const Region& at, std::string message, std::string remedy,
                const Region& second, std::string label);
  // One about a name that is not among `known`, with the nearest as a suggestion.
  void unknown(const char* rule, const Region& at, std::string message, const std::string& word,
               const std::vector<std::string>& known);
  void missing(const Node& table, const SectionInfo& section, const FieldInfo& field);
  // Of a table in which exactly one key must stand, `found` do.
  void not_one(const Node& table, const SectionInfo& section, std::size_t found);
  // Of a table in which at least one of some keys must stand, and none does.
  void none_of(const Node& table, const SectionInfo& section);
  void unknown_keys(const Node& table, const SectionInfo& section);
  void wrong_type(const Node& node, const std::string& key, const std::string& expected, std::string remedy);

  // Each complains and gives nothing when the node is not what was asked for.
  std::optional<GivenText> text(const Node& node, const std::string& key);
  std::optional<GivenText> device(const Node& node, const std::string& key);
  std::optional<GivenText> day(const Node& node, const std::string& key);
  std::optional<Channel> channel(const GivenText& given, const std::string& key);
  std::optional<Unit> unit(const Node& node, const std::string& key, Kind kind);
  std::optional<bool> flag(const Node& node, const std::string& key);
  std::optional<double> number(const Node& node, const FieldInfo& field);
  std::optional<std::size_t> choice(const Node& node, const FieldInfo& field);
  bool is_table(const Node& node, const std::string& key);
  bool is_list(const Node& node, const std::string& key);
  bool is_long_enough(const Node& node, const FieldInfo& field);
  // A quantity of a kind known only at run time; a flow comes resolved, in mol/s.
  std::optional<SiValue> si_value(const Node& node, const std::string& key, Kind kind);

  template <class Q>
  std::optional<Given<Q>> quantity(const Node& node, const FieldInfo& field);

 private:
  bool in_domain(const Region& at, const FieldInfo& field, double si);
  bool is_quantity_text(const Node& node, const std::string& key, Kind kind);
  std::size_t line_text_ = 0;  // bytes in the diagnostics: a file of one line must not fill the memory
  void bad_quantity(const Node& node, const std::string& key, const TextProblem& problem);
};

// How a quantity stands in text: flows stand as written until the reference is known.
template <class Q>
struct AsText {
  using type = Q;
  static Q resolved(const Q& value, const GasReference&) { return value; }
};
template <>
struct AsText<MolarFlow> {
  using type = WrittenFlow;
  static MolarFlow resolved(const WrittenFlow& value, const GasReference& reference) {
    return value.resolve(reference);
  }
};
template <>
struct AsText<MolarFlux> {
  using type = WrittenFlux;
  static MolarFlux resolved(const WrittenFlux& value, const GasReference& reference) {
    return value.resolve(reference);
  }
};

inline double si_of(const WrittenFlow& value) { return value.value_si; }
inline double si_of(const WrittenFlux& value) { return value.value_si; }
template <class Q>
double si_of(const Q& value) {
  return value.value();
}

template <class Q>
std::optional<Given<Q>> Reader::quantity(const Node& node, const FieldInfo& field) {
  using Text = typename AsText<Q>::type;
  if (!is_quantity_text(node, field.key, KindOf<Text>::value)) return std::nullopt;
  auto parsed = parse<Text>(node.text);
  if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
    bad_quantity(node, field.key, *problem);
    return std::nullopt;
  }
  auto& written = std::get<Written<Text>>(parsed);
  if (!in_domain(node.at, field, si_of(written.value))) return std::nullopt;
  return Given<Q>{AsText<Q>::resolved(written.value, reference), std::move(written.unit), node.at};
}

// A count is a bare number.
template <>
std::optional<Given<Count>> Reader::quantity<Count>(const Node& node, const FieldInfo& field);

}  // namespace vacuary::plan
