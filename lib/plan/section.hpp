// A section of a plan file as a table of fields that also knows where each value goes.
//
//   Section<Pump>("a pump", "...")
//       .text(&Pump::name, "name", Need::required, "what the recipe calls it")
//       .quantity(&Pump::ultimate, "ultimate", domain::positive, "lowest pressure it reaches alone")
//
// Fields are read in the order of the table, not of the file: what later fields need (the reference
// of the flows) comes first.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "plan/reader.hpp"

namespace vacuary::plan {

// The species a plan can speak of.
[[nodiscard]] const std::vector<Choice>& gases();

template <class T>
class Section {
 public:
  using Set = std::function<void(T&, const Node&, const FieldInfo&, Reader&)>;
  using Check = std::function<void(T&, const Node&, Reader&)>;

  Section(std::string title, std::string help) {
    info_.title = std::move(title);
    info_.help = std::move(help);
  }

  [[nodiscard]] const SectionInfo& info() const { return info_; }

  // What the table says, as far as it can be read. Precondition: `table` is a table.
  [[nodiscard]] T read(const Node& table, Reader& reader) const {
    T value;
    fill(value, table, reader);
    return value;
  }
  void fill(T& value, const Node& table, Reader& reader) const;

  Section& field(FieldInfo field, Set set) {
    info_.fields.push_back(std::move(field));
    setters_.push_back(std::move(set));
    return *this;
  }
  // Runs after all fields of the table were read.
  Section& check(Check check) {
    checks_.push_back(std::move(check));
    return *this;
  }
  Section& one_of() {
    info_.one_of = true;
    return *this;
  }
  Section& any_of(std::vector<std::string> keys) {
    info_.any_of = std::move(keys);
    return *this;
  }
  // The last field must stand.
  Section& required() {
    info_.fields.back().need = Need::required;
    return *this;
  }
  // The last field, a list, has this many items or more.
  Section& at_least(std::size_t least) {
    info_.fields.back().least = least;
    return *this;
  }
  // The `format` key of a root table; read_format() reads it.
  Section& format() {
    return field(make(Shape::format, "format", Need::optional, "name and version of the format"),
                 [](T&, const Node&, const FieldInfo&, Reader&) {});
  }
  // The last field's value when its key is missing, written as in a file (quotes left out).
  Section& otherwise(std::string fallback) {
    info_.fields.back().fallback = std::move(fallback);
    return *this;
  }

  Section& text(GivenText T::*member, std::string key, Need need, std::string help) {
    return field(make(Shape::text, std::move(key), need, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto given = reader.text(node, info.key)) value.*member = std::move(*given);
                 });
  }
  Section& text(MaybeText T::*member, std::string key, std::string help) {
    return field(make(Shape::text, std::move(key), Need::optional, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   value.*member = reader.text(node, info.key);
                 });
  }
  Section& text(std::string T::*member, std::string key, Need need, std::string help) {
    return field(make(Shape::text, std::move(key), need, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto given = reader.text(node, info.key)) value.*member = std::move(given->value);
                 });
  }
  template <class Q>
  Section& quantity(Given<Q> T::*member, std::string key, Need need, Domain domain, std::string help) {
    return field(make_quantity<Q>(std::move(key), need, domain, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto given = reader.template quantity<Q>(node, info))
                     value.*member = std::move(*given);
                 });
  }
  template <class Q>
  Section& quantity(Maybe<Q> T::*member, std::string key, Domain domain, std::string help) {
    return field(make_quantity<Q>(std::move(key), Need::optional, domain, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   value.*member = reader.template quantity<Q>(node, info);
                 });
  }
  Section& flag(bool T::*member, std::string key, std::string help) {
    return field(make(Shape::flag, std::move(key), Need::optional, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (const auto given = reader.flag(node, info.key)) value.*member = *given;
                 });
  }
  // `choices` stand in the order of the enumeration.
  template <class E>
  Section& choice(E T::*member, std::string key, Need need, std::vector<Choice> choices, std::string help) {
    FieldInfo info = make(Shape::choice, std::move(key), need, std::move(help));
    info.choices = std::move(choices);
    return field(std::move(info), [member](T& value, const Node& node, const FieldInfo& in, Reader& reader) {
      if (const auto index = reader.choice(node, in)) value.*member = static_cast<E>(*index);
    });
  }
  // A gas by the short name of its species.
  Section& gas(GivenText T::*member, std::string key, std::string help) {
    FieldInfo info = make(Shape::choice, std::move(key), Need::required, std::move(help));
    info.choices = gases();
    return field(std::move(info), [member](T& value, const Node& node, const FieldInfo& in, Reader& reader) {
      if (reader.choice(node, in)) value.*member = GivenText{node.text, node.at};
    });
  }
  // The name of a device: it becomes the first part of its channels' names.
  Section& device(GivenText T::*member, std::string key, std::string help) {
    return field(make(Shape::device, std::move(key), Need::required, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto given = reader.device(node, info.key)) value.*member = std::move(*given);
                 });
  }
  Section& texts(std::vector<GivenText> T::*member, std::string key, std::string help) {
    return field(make(Shape::texts, std::move(key), Need::optional, std::move(help)),
                 [member](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (!reader.is_list(node, info.key)) return;
                   for (const Node& item : node.items) {
                     if (auto given = reader.text(item, info.key))
                       (value.*member).push_back(std::move(*given));
                   }
                 });
  }
  template <class U>
  Section& table(U T::*member, std::string key, Need need, const Section<U>& section, std::string help) {
    return field(make_table(Shape::table, std::move(key), need, section.info(), std::move(help)),
                 [member, &section](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (reader.is_table(node, info.key)) value.*member = section.read(node, reader);
                 });
  }
  template <class U>
  Section& table(std::optional<U> T::*member, std::string key, const Section<U>& section, std::string help) {
    return field(make_table(Shape::table, std::move(key), Need::optional, section.info(), std::move(help)),
                 [member, &section](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (reader.is_table(node, info.key)) value.*member = section.read(node, reader);
                 });
  }
  template <class U>
  Section& tables(std::vector<U> T::*member, std::string key, Need need, const Section<U>& section,
                  std::string help) {
    return field(make_table(Shape::tables, std::move(key), need, section.info(), std::move(help)),
                 [member, &section](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (!reader.is_list(node, info.key) || !reader.is_long_enough(node, info)) return;
                   for (const Node& item : node.items) {
                     if (reader.is_table(item, info.key))
                       (value.*member).push_back(section.read(item, reader));
                   }
                 });
  }
  // A table in the file whose fields go into the same value.
  Section& group(std::string key, Need need, const Section<T>& section, std::string help) {
    return field(make_table(Shape::table, std::move(key), need, section.info(), std::move(help)),
                 [&section](T& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (reader.is_table(node, info.key)) section.fill(value, node, reader);
                 });
  }

  [[nodiscard]] static FieldInfo make(Shape shape, std::string key, Need need, std::string help) {
    FieldInfo info;
    info.key = std::move(key);
    info.shape = shape;
    info.need = need;
    info.help = std::move(help);
    return info;
  }

 private:
  template <class Q>
  [[nodiscard]] static FieldInfo make_quantity(std::string key, Need need, Domain domain, std::string help) {
    constexpr Kind kind = KindOf<typename AsText<Q>::type>::value;
    FieldInfo info =
        make(kind == Kind::count ? Shape::count : Shape::quantity, std::move(key), need, std::move(help));
    info.kind = kind;
    info.domain = domain;
    return info;
  }
  [[nodiscard]] static FieldInfo make_table(Shape shape, std::string key, Need need,
                                            const SectionInfo& section, std::string help) {
    FieldInfo info = make(shape, std::move(key), need, std::move(help));
    info.section = &section;
    return info;
  }

  SectionInfo info_;
  std::vector<Set> setters_;
  std::vector<Check> checks_;
};

// A value that no file states, as a node of the shape its field expects.
[[nodiscard]] Node fallback_node(const FieldInfo& field);

template <class T>
void Section<T>::fill(T& value, const Node& table, Reader& reader) const {
  reader.unknown_keys(table, info_);
  std::size_t found = 0;
  for (std::size_t i = 0; i < setters_.size(); ++i) {
    const FieldInfo& info = info_.fields[i];
    if (const Entry* entry = table.find(info.key)) {
      ++found;
      setters_[i](value, entry->node, info, reader);
    } else if (!info.fallback.empty()) {
      setters_[i](value, fallback_node(info), info, reader);
    } else if (info.need == Need::required) {
      reader.missing(table, info_, info);
    }
  }
  reader.none_of(table, info_);
  if (info_.one_of && found != 1) reader.not_one(table, info_, found);
  for (const Check& check : checks_) check(value, table, reader);
}

// Complains about keys that do not belong to `word` of the section's deciding choice, and about
// those that must stand with it.
void apply_variants(Reader& reader, const Node& table, const SectionInfo& section, const Variants& variants,
                    const std::string& word);

// ------------------------------------------------ contradictions between values

// The file states it, and it could be read.
template <class Q>
[[nodiscard]] bool stated(const Given<Q>& given) {
  return given.at.source != nullptr;
}
template <class Q>
[[nodiscard]] bool stated(const Maybe<Q>& given) {
  return given.has_value();
}

// Complains with `message` unless low < high (`or_equal`: low <= high); silent when either could
// not be read.
template <class Q>
void expect_less(Reader& reader, const Given<Q>& low, const Given<Q>& high, bool or_equal,
                 std::string message, std::string label) {
  if (!stated(low) || !stated(high)) return;
  if (low.value < high.value || (or_equal && !(high.value < low.value))) return;
  reader.complain("out-of-domain", low.at, std::move(message), "correct one of the two", high.at,
                  std::move(label));
}
template <class Q>
void in_order(Reader& reader, const Given<Q>& low, const char* low_key, const Given<Q>& high,
              const char* high_key, bool or_equal = false) {
  expect_less(reader, low, high, or_equal,
              std::string("'") + low_key + "' must be " + (or_equal ? "at most" : "less than") + " '" +
                  high_key + "'",
              std::string("'") + high_key + "' is set here");
}

// Complains about every name that was there before.
void unique_names(Reader& reader, const std::vector<const GivenText*>& names, const char* what);

template <class T>
void unique(Reader& reader, const std::vector<T>& all, GivenText T::*member, const char* what) {
  std::vector<const GivenText*> names;
  for (const T& one : all) names.push_back(&(one.*member));
  unique_names(reader, names, what);
}

}  // namespace vacuary::plan
