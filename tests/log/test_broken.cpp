// Broken logs as files, each beside all that is said about it: whole complaints with their carets,
// every event, and what of the rows was left. With VACUARY_REGENERATE=1 in the environment the
// expected texts are written instead of compared; read the difference as a user would.
#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <set>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

const std::filesystem::path folder = std::filesystem::path(VACUARY_SOURCE_DIR) / "tests" / "log" / "broken";

// A plant with the gauges and supplies that the maps of this folder name.
plan::Plan plant() {
  plan::Plan out;
  out.chamber.reference = GasReference::usual();
  for (const char* name : {"ion", "pirani"}) {
    out.chamber.gauges.emplace_back();
    out.chamber.gauges.back().name.value = name;
  }
  return out;
}

// Places name the file without its folder, so that they are the same on every machine.
std::string without_folder(std::string text) {
  const std::string prefix = folder.string() + "/";
  for (std::size_t at = 0; (at = text.find(prefix, at)) != std::string::npos;) text.erase(at, prefix.size());
  return text;
}

std::string rows_left(const Outcome& log) {
  std::string out = fmt::format("{} rows\n", log.time.size());
  for (const auto& [name, values] : log.values) {
    std::size_t usable = 0;
    for (const double v : values) usable += std::isnan(v) ? 0U : 1U;
    if (usable < values.size()) out += fmt::format("{} of {}\n", usable, name);
  }
  if (!log.breaks.empty()) {
    out += "breaks before lines";
    for (const std::size_t row : log.breaks) out += fmt::format(" {}", log.line[row]);
    out += "\n";
  }
  if (log.time.size() > 1)
    out += fmt::format("from {} to {}\n", to_rfc3339(log.time.front()), to_rfc3339(log.time.back()));
  return out;
}

std::string all_that_is_said(const std::filesystem::path& file) {
  plan::ChannelMap map;
  std::string out;
  std::filesystem::path map_file = file;
  map_file.replace_extension(".toml");
  if (std::filesystem::exists(map_file)) {
    const auto loaded = plan::load_channels(map_file, plant());
    out += to_text(loaded.diagnostics());
    if (!loaded.ok()) return without_folder(out);
    map = loaded.value();
  }
  const auto opened = Reader::open({file}, map);
  out += to_text(opened.diagnostics());
  if (!opened.ok()) return without_folder(out);
  const Outcome log = read_files({file}, map);
  for (const std::string& line : log.said) out += line + "\n";
  out += log.after;
  return without_folder(out + rows_left(log));
}

std::set<std::filesystem::path> logs() {
  std::set<std::filesystem::path> out;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const auto extension = entry.path().extension();
    if (extension != ".toml" && extension != ".txt") out.insert(entry.path());
  }
  return out;
}

}  // namespace

TEST_CASE("broken logs give exactly these complaints") {
  const char* wish = std::getenv("VACUARY_REGENERATE");  // NOLINT(concurrency-mt-unsafe)
  const bool regenerate = wish != nullptr && *wish == '1';
  const auto files = logs();
  REQUIRE(files.size() >= 50);
  for (const auto& file : files) {
    INFO(file.filename().string());
    const std::string said = all_that_is_said(file);
    std::filesystem::path expected = file;
    expected.replace_extension(".txt");
    if (regenerate) {
      REQUIRE(write_file(expected, said, true).ok());
      continue;
    }
    CHECK(said == read_file(expected, 1U << 20U).value());
  }
}

TEST_CASE("every kind of oddity has a broken log that shows it") {
  std::string all;
  for (const auto& file : logs()) all += all_that_is_said(file);
  for (std::size_t i = 0; i < static_cast<std::size_t>(Oddity::count_); ++i) {
    const auto oddity = static_cast<Oddity>(i);
    if (oddity == Oddity::too_long_line) continue;  // a megabyte: made in test_oddities.cpp
    INFO(name(oddity));
    CHECK(all.find(fmt::format(": {}", name(oddity))) != std::string::npos);
  }
}
