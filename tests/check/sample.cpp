#include "check/sample.hpp"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <sstream>
#include <stdexcept>

#include "model/model.hpp"

namespace vacuary::check_test {
namespace {

struct Change {
  std::string file, before, after;
};

void apply(Files& files, const Change& change, const std::string& name) {
  if (change.file.empty()) return;
  std::string& text = files[change.file];
  // A change starts at the start of a line, so that a short line is not found inside a longer one.
  const std::string padded = "\n" + text;
  const std::string wanted = "\n" + change.before;
  const std::size_t at = padded.find(wanted);
  if (at == std::string::npos)
    throw std::runtime_error(name + ": not in " + change.file + ":\n" + change.before);
  if (padded.find(wanted, at + 1) != std::string::npos) {
    throw std::runtime_error(name + ": more than once in " + change.file + ":\n" + change.before);
  }
  text.replace(at, change.before.size(), change.after);
}

Case read_patch(const std::filesystem::path& path) {
  Case c;
  c.name = path.stem().string();
  c.files = sample();
  std::istringstream lines(text_of(path));
  Change change;
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("@@ ", 0) == 0) {
      apply(c.files, change, c.name);
      change = Change{line.substr(3), {}, {}};
    } else if (change.file.empty()) {
      c.says += line + "\n";
    } else if (!line.empty() && line[0] == '+') {
      change.after += line.substr(1) + "\n";
    } else if (!line.empty() && (line[0] == '-' || line[0] == ' ')) {
      change.before += line.substr(1) + "\n";
      if (line[0] == ' ') change.after += line.substr(1) + "\n";
    } else {
      throw std::runtime_error(c.name + ": a line must start with ' ', '-' or '+': " + line);
    }
  }
  apply(c.files, change, c.name);
  return c;
}

Case read_whole(const std::filesystem::path& path) {
  Case c;
  c.name = path.stem().string();
  c.recipe = path.filename().string();
  c.files = sample();
  c.files[c.recipe] = text_of(path);
  const std::string& text = c.files[c.recipe];
  c.says = text.rfind("# ", 0) == 0 ? text.substr(2, text.find('\n') - 1) : "";
  return c;
}

}  // namespace

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + path.string());
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

Files sample() {
  static const Files files = [] {
    Files some;
    for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(VACUARY_SOURCE_DIR) /
                                                                 "recipes" / "tarn-ridge")) {
      if (entry.path().extension() == ".toml") some[entry.path().filename().string()] = text_of(entry.path());
    }
    return some;
  }();
  return files;
}

Case read_case(const std::filesystem::path& path) {
  return path.extension() == ".patch" ? read_patch(path) : read_whole(path);
}

std::vector<Case> cases_in(const std::filesystem::path& path) {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(path)) {
    const std::string extension = entry.path().extension().string();
    if (extension == ".patch" || extension == ".toml") paths.push_back(entry.path());
  }
  std::sort(paths.begin(), paths.end());
  std::vector<Case> cases;
  for (const std::filesystem::path& one : paths) cases.push_back(read_case(one));
  return cases;
}

Diagnostics findings(const Case& c) {
  const auto read = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    const auto file = c.files.find(path.string());
    if (file == c.files.end()) return plan::read_from_disk(path);
    // Bytes that are not text take the road of every file: through the disk's own check.
    if (first_invalid_utf8(file->second) != std::string::npos ||
        file->second.find('\0') != std::string::npos) {
      const auto here = std::filesystem::current_path();
      std::filesystem::current_path(folder / "bad");
      auto result = plan::read_from_disk(path);
      std::filesystem::current_path(here);
      return result;
    }
    return std::make_shared<const Source>(path.string(), file->second);
  };
  const Result<plan::Plan> loaded = plan::load(c.recipe, read);
  if (!loaded.has_value()) return loaded.diagnostics();
  Diagnostics all = loaded.diagnostics();
  Diagnostics more = check::check(loaded.value(), model::predict(loaded.value()));
  all.insert(all.end(), more.begin(), more.end());
  return all;
}

plan::Plan sample_plan() {
  Case c;
  c.files = sample();
  const auto read = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), c.files.at(path.string()));
  };
  Result<plan::Plan> loaded = plan::load(recipe_name, read);
  if (!loaded.ok()) throw std::runtime_error("the sample does not load:\n" + to_text(loaded.diagnostics()));
  return std::move(loaded).value();
}

}  // namespace vacuary::check_test
