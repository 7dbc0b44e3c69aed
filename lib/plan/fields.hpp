// The plan formats as data: every key with its kind, range, need and one line of help.
//
// One table a section drives loading, the suggestions for unknown keys, the JSON Schemas in
// `schemas` and the reference in schemas/README.md, so that none can drift from the others.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "plan/channel.hpp"
#include "plan/plan.hpp"

namespace vacuary::plan {

// What a number may be, in SI. `text` completes the sentence "this must be ...".
struct Domain {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  bool low_open = false;  // low itself is not allowed
  const char* text = "";
  bool whole = false;

  [[nodiscard]] bool holds(double value) const;
};
namespace domain {
inline constexpr Domain any{};
inline constexpr Domain positive{0, std::numeric_limits<double>::infinity(), true, "more than zero"};
inline constexpr Domain not_negative{0, std::numeric_limits<double>::infinity(), false, "zero or more"};
inline constexpr Domain share{0, 1, false, "from 0 % to 100 %"};
inline constexpr Domain positive_share{0, 1, true, "more than 0 %, at most 100 %"};
inline constexpr Domain whole_positive{1, 1e9, false, "a whole number from 1", true};
inline constexpr Domain whole{0, 1e9, false, "a whole number from 0", true};
inline constexpr Domain absolute{0, 1e5, true, "above absolute zero and below 100000 K"};
}  // namespace domain

enum class Need { required, optional };

enum class Shape {
  format,
  text,
  quantity,
  count,
  number,
  flag,
  choice,
  texts,    // list of texts
  numbers,  // list of bare numbers
  table,
  tables,
  device,         // a name that can stand in a channel's
  day,            // YYYY-MM-DD
  channel,        // "<device>.<what>"
  channel_value,  // a quantity whose kind the channel beside it decides
  any_unit,       // a unit whose kind the channel beside it decides
  name_map,
  number_map,  // free keys to text, to number
};

struct Choice {
  const char* word;
  const char* help;
};

struct SectionInfo;

struct FieldInfo {
  std::string key;
  Shape shape = Shape::text;
  Need need = Need::optional;
  std::string help;
  Kind kind = Kind::ratio;               // quantity
  Domain domain{};                       // quantity, count, number
  std::string fallback;                  // what holds when the key is missing, as a person would write it
  std::vector<Choice> choices;           // choice
  const SectionInfo* section = nullptr;  // table, tables
  std::size_t least = 0;                 // tables: as many at least
};

struct SectionInfo {
  std::string title;  // "a pump"
  std::string help;
  std::vector<FieldInfo> fields;
  bool one_of = false;              // exactly one of the fields must stand
  std::vector<std::string> any_of;  // at least one of these must stand
};

// Keys that belong to one word of a choice only (a pump's stages to the roughing kind).
struct Applies {
  const char* word;                    // of the choice
  std::vector<std::string> must, may;  // of the keys that not every word may have
  std::vector<std::string> ends;       // step kinds: how such a step may end
};
struct Variants {
  const SectionInfo* section = nullptr;
  std::string choice;  // the key that decides: "kind"
  std::vector<Applies> words;
};

struct Format {
  std::string name;  // "vacuary-recipe"
  int version = 1;
  std::string file;  // of the schema: "recipe.schema.json"
  std::string help;
  const SectionInfo* root = nullptr;
};

// All formats this release reads, and which keys go with which kind.
[[nodiscard]] const std::vector<Format>& formats();
[[nodiscard]] const std::vector<Variants>& variants();

// The JSON Schema (draft 2020-12) of a format, and the reference of all formats in Markdown, made
// from the tables. The committed ones in `schemas` are held against these by a test.
[[nodiscard]] std::string json_schema(const Format& format);
[[nodiscard]] std::string reference();

}  // namespace vacuary::plan
