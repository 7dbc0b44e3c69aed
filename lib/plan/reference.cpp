// The reference of the plan formats, in Markdown, made from the tables of fields.
#include <fmt/format.h>

#include "plan/fields.hpp"

namespace vacuary::plan {
namespace {

std::string shape_of(const FieldInfo& field) {
  switch (field.shape) {
    case Shape::format:
    case Shape::text:
    case Shape::any_unit:
    case Shape::device:
    case Shape::channel:
      return "text";
    case Shape::quantity:
      return fmt::format("{}, `\"{}\"`", name(field.kind), example(field.kind));
    case Shape::channel_value:
      return "quantity of the channel's kind";
    case Shape::count:
    case Shape::number:
      return field.domain.whole ? "whole number" : "number";
    case Shape::flag:
      return "`true` or `false`";
    case Shape::day:
      return "day, `\"2031-02-17\"`";
    case Shape::texts:
      return "list of texts";
    case Shape::numbers:
      return "list of numbers";
    case Shape::table:
      return "table";
    case Shape::tables:
      return "list of tables";
    case Shape::name_map:
      return "table of texts";
    case Shape::number_map:
      return "table of numbers";
    case Shape::choice:
      break;
  }
  std::string all;
  for (const Choice& choice : field.choices)
    all += fmt::format("{}`\"{}\"`", all.empty() ? "" : ", ", choice.word);
  return all;
}

void rows(const SectionInfo& section, const std::string& prefix, std::string& out) {
  for (const FieldInfo& field : section.fields) {
    std::string need = field.need == Need::required || field.shape == Shape::format ? "required" : "";
    if (!field.fallback.empty()) need = fmt::format("`{}`", field.fallback);
    std::string help = field.help;
    if (field.domain.text[0] != '\0') help += fmt::format("; {}", field.domain.text);
    const std::string key = prefix + field.key;
    out += fmt::format("| `{}{}` | {} | {} | {} |\n", key, field.shape == Shape::tables ? "[]" : "",
                       shape_of(field), need, help);
    if (field.section != nullptr)
      rows(*field.section, key + (field.shape == Shape::tables ? "[]." : "."), out);
  }
}

std::string code_list(const std::vector<std::string>& keys) {
  std::string all;
  for (const std::string& key : keys) all += fmt::format("{}`{}`", all.empty() ? "" : ", ", key);
  return all.empty() ? "-" : all;
}

void variant_rows(const Variants& variants, std::string& out) {
  out += fmt::format(
      "\nWhat goes with which `{}` of {}:\n\n| `{}` | must have | may have | may end by "
      "|\n|---|---|---|---|\n",
      variants.choice, variants.section->title, variants.choice);
  for (const Applies& word : variants.words) {
    out += fmt::format("| `{}` | {} | {} | {} |\n", word.word, code_list(word.must), code_list(word.may),
                       code_list(word.ends));
  }
}

}  // namespace

std::string reference() {
  std::string out =
      "# The keys of the plan files\n\n"
      "Made from the tables the loader reads by (`lib/plan`); a test holds this file against them.\n"
      "A quantity is text with its unit. The third column says whether a key must stand, or what holds "
      "without it.\n";
  for (const Format& format : formats()) {
    out +=
        fmt::format("\n## {} {}\n\n{} Schema: `{}`.\n\n| key | value | need | meaning |\n|---|---|---|---|\n",
                    format.name, format.version, format.help, format.file);
    rows(*format.root, "", out);
  }
  for (const Variants& each : variants()) variant_rows(each, out);
  return out;
}

}  // namespace vacuary::plan
