#include "plan/plan.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

constexpr int version_read = 1;

// One file of a plan on its way to a value.
struct Opened {
  File file;
  Document document;
};

// The file `named` speaks of. A failure is told where it is named: that is the line to correct.
std::optional<Opened> open_named(const GivenText& named, const std::filesystem::path& beside,
                                 const char* what, const ReadSource& read, Diagnostics& diagnostics) {
  const std::filesystem::path path = beside.parent_path() / named.value;
  auto source = read(path);
  if (source.has_value()) return Opened{{path, source.value()}, read_document(source.value())};
  for (Diagnostic d : source.diagnostics()) {
    if (d.where && d.where->line > 0) {
      if (const auto place = named.at.place()) d.second = SecondPlace{*place, "the file is named here"};
    } else {
      d.message = fmt::format("cannot use {} file {}: {}", what, path.string(), d.message);
      d.where = named.at.place();
    }
    diagnostics.push_back(std::move(d));
  }
  return std::nullopt;
}

// False when the file is of another format, and nothing of it was taken.
template <class T>
bool fill(T& value, Opened& opened, const Section<T>& section, const char* format, Reader& reader) {
  reader.broken = reader.broken || opened.document.broken;
  reader.diagnostics = std::move(opened.document.diagnostics);
  value.file = opened.file;
  if (!read_format(reader, opened.document.root, format)) return false;
  section.fill(value, opened.document.root, reader);
  return true;
}

void append(Diagnostics& all, Diagnostics more) {
  sort_by_place(more);
  all.insert(all.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

// A path the recipe names, ahead of the rest of the recipe.
MaybeText named_path(const Node& root, const char* key) {
  const Entry* entry = root.find(key);
  if (entry == nullptr || entry->node.type != Node::Type::text || entry->node.text.empty())
    return std::nullopt;
  if (entry->node.text.find('\0') != std::string::npos) return std::nullopt;
  return GivenText{entry->node.text, entry->node.at};
}

// What the recipe needs of another file, and whether it can be had.
struct Others {
  bool chamber = false;
  bool broken = false;
  Diagnostics diagnostics;  // of the chamber and the optic file
  Diagnostics at_recipe;    // about them, at the recipe's lines
};

Others load_others(Plan& plan, const Node& root, const std::filesystem::path& recipe,
                   const ReadSource& read) {
  Others others;
  plan.chamber.reference = GasReference::usual();
  if (const auto path = named_path(root, "chamber")) {
    if (auto opened = open_named(*path, recipe, "chamber", read, others.at_recipe)) {
      Reader reader;
      others.chamber = fill(plan.chamber, *opened, chamber_section(), "vacuary-chamber", reader);
      others.broken = reader.broken;
      append(others.diagnostics, std::move(reader.diagnostics));
    }
  }
  if (const auto path = named_path(root, "optic")) {
    if (auto opened = open_named(*path, recipe, "optic", read, others.at_recipe)) {
      Reader reader;
      plan.optic.emplace();
      (void)fill(*plan.optic, *opened, optic_section(), "vacuary-optic", reader);
      append(others.diagnostics, std::move(reader.diagnostics));
    }
  }
  return others;
}

}  // namespace

Result<std::shared_ptr<const Source>> read_from_disk(const std::filesystem::path& path) {
  return read_source(path);
}

bool read_format(Reader& reader, const Node& root, const std::string& name) {
  const std::string expected = fmt::format("{} {}", name, version_read);
  const Entry* entry = root.find("format");
  if (entry == nullptr) {
    if (reader.broken) return true;
    reader.complain("missing-key", root.at, "the file does not say its format",
                    fmt::format("add the line format = \"{}\" at its top", expected));
    return true;
  }
  const auto given = reader.text(entry->node, "format");
  if (!given || given->value == expected) return true;
  const bool other_version = given->value.rfind(name + " ", 0) == 0;
  reader.complain("unknown-format", entry->node.at,
                  other_version ? fmt::format("this release does not read this version of {}", name)
                                : fmt::format("this is no {} file", name),
                  fmt::format("this release reads \"{}\"", expected));
  return false;
}

Result<Plan> load(const std::filesystem::path& recipe_path, const ReadSource& read) {
  auto source = read(recipe_path);
  if (!source.has_value()) return source.diagnostics();
  Opened opened{{recipe_path, source.value()}, read_document(source.value())};
  Plan plan;
  Others others = load_others(plan, opened.document.root, recipe_path, read);
  Reader reader;
  reader.reference = plan.chamber.reference;
  reader.broken = others.broken;
  const bool recipe = fill(plan.recipe, opened, recipe_section(), "vacuary-recipe", reader);
  if (recipe && others.chamber) resolve_recipe(reader, plan);
  Diagnostics all;
  reader.diagnostics.insert(reader.diagnostics.end(), others.at_recipe.begin(), others.at_recipe.end());
  append(all, std::move(reader.diagnostics));
  append(all, std::move(others.diagnostics));
  if (has_errors(all)) return all;
  return Result<Plan>(std::move(plan), std::move(all));
}

Result<ChannelMap> load_channels(const std::filesystem::path& path, const Plan& plan,
                                 const ReadSource& read) {
  auto source = read(path);
  if (!source.has_value()) return source.diagnostics();
  Opened opened{{path, source.value()}, read_document(source.value())};
  ChannelMap map;
  Reader reader;
  reader.reference = plan.chamber.reference;
  reader.broken = opened.document.broken;
  reader.diagnostics = std::move(opened.document.diagnostics);
  map.file = opened.file;
  if (read_format(reader, opened.document.root, "vacuary-channels")) {
    channels_section().fill(map, opened.document.root, reader);
    resolve_channels(reader, map, opened.document.root, plan);
  }
  Diagnostics all;
  append(all, std::move(reader.diagnostics));
  if (has_errors(all)) return all;
  return Result<ChannelMap>(std::move(map), std::move(all));
}

namespace {

template <class T>
const T* named(const std::vector<T>& all, const std::string& name) {
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const T& one) { return one.name.value == name; });
  return found == all.end() ? nullptr : &*found;
}

}  // namespace

const GasLine* gas_line(const Chamber& chamber, const std::string& name) {
  return named(chamber.gas_lines, name);
}
const Cathode* cathode(const Chamber& chamber, const std::string& name) {
  return named(chamber.cathodes, name);
}
const Supply* supply(const Chamber& chamber, const std::string& name) {
  return named(chamber.supplies, name);
}
const Pump* pump(const Chamber& chamber, const std::string& name) { return named(chamber.pumps, name); }
const Gauge* gauge(const Chamber& chamber, const std::string& name) { return named(chamber.gauges, name); }

}  // namespace vacuary::plan
