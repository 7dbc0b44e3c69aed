#include "plan/files.hpp"

#include <doctest/doctest.h>

namespace plan_files {

using namespace vacuary;

namespace {

using SourceResult = Result<std::shared_ptr<const Source>>;

// A disk that holds the files given and the sample plant's.
plan::ReadSource disk(const std::string& name, const std::string& text, const std::string& recipe) {
  return [=](const std::filesystem::path& path) -> SourceResult {
    if (path == name) return std::make_shared<const Source>(name, text);
    if (path == "recipe.toml") return std::make_shared<const Source>("recipe.toml", recipe);
    auto found = plan::read_from_disk(sample_folder() / path);
    if (!found.has_value()) {
      Diagnostic d;
      d.rule = "unreadable-file";
      d.where = Place::whole_file(path.string());
      d.message = "cannot open the file: No such file or directory";
      d.remedy = "check the name and the folder";
      return d;
    }
    return std::make_shared<const Source>(path.string(), found.value()->bytes());
  };
}

std::string recipe_naming(const std::string& chamber, const std::string& optic) {
  return "format = \"vacuary-recipe 1\"\nname = \"x\"\nrevision = \"1\"\nauthor = \"x\"\nchamber = \"" +
         chamber + "\"\n" + (optic.empty() ? "" : "optic = \"" + optic + "\"\n") +
         "[[step]]\nname = \"wait\"\nkind = \"hold\"\nend = { time = \"1 s\" }\nlongest = \"1 s\"\n";
}

}  // namespace

std::string bytes_of(const std::filesystem::path& path) {
  auto bytes = read_file(path, std::size_t{16} << 20U);
  return bytes.has_value() ? std::move(bytes).value() : std::string();
}

std::filesystem::path sample_folder() {
  return std::filesystem::path(VACUARY_SOURCE_DIR) / "recipes" / "tarn-ridge";
}

Diagnostics load(const std::string& name, const std::string& text) {
  const std::string word = name.substr(0, name.find('-'));
  if (word == "recipe") return plan::load(name, disk(name, text, "")).diagnostics();
  if (word == "channels") {
    return plan::load_channels(name, sample_plan(), disk(name, text, "")).diagnostics();
  }
  if (word == "measured") return plan::load_measured(name, disk(name, text, "")).diagnostics();
  const std::string recipe =
      word == "chamber" ? recipe_naming(name, "") : recipe_naming("chamber.toml", name);
  return plan::load("recipe.toml", disk(name, text, recipe)).diagnostics();
}

plan::Plan sample_plan() {
  // Names without a folder: what is said about these files is the same on every machine.
  auto loaded = plan::load("aluminium-90nm.toml", disk("", "", ""));
  INFO(to_text(loaded.diagnostics()));
  REQUIRE(loaded.ok());
  return std::move(loaded).value();
}

}  // namespace plan_files
