// What the tests of sketches share: a sketch of some text, and a log read with the sketch of it as its map.
#pragma once

#include <fmt/format.h>

#include "log/sketch.hpp"
#include "log/support.hpp"

namespace vacuary::log::test {

inline std::string sketch(const std::string& bytes) {
  auto result = sketch_map({write("export.txt", bytes)});
  return result.ok() ? result.value().map : to_text(result.diagnostics());
}

inline bool holds(const std::string& map, const std::string& text) {
  return map.find(text) != std::string::npos;
}

inline plan::Plan some_plant() {
  plan::Plan plant;
  plant.chamber.reference = GasReference::usual();
  for (const char* name : {"ion", "pirani", "manometer"}) {
    plant.chamber.gauges.emplace_back();
    plant.chamber.gauges.back().name.value = name;
  }
  for (const char* name : {"argon", "oxygen", "nitrogen"}) {
    plant.chamber.gas_lines.emplace_back();
    plant.chamber.gas_lines.back().name.value = name;
  }
  plant.chamber.supplies.emplace_back();
  plant.chamber.supplies.back().name.value = "supply";
  plant.chamber.cathodes.emplace_back();
  plant.chamber.cathodes.back().name.value = "cathode";
  return plant;
}

// What a person puts into a sketch: the first text becomes the second.
using Stated = std::vector<std::pair<std::string, std::string>>;

// What the reader makes of a log with the sketch of it as its map.
inline Outcome read_with_its_sketch(const std::string& bytes, const Stated& stated = {}) {
  const plan::Plan plant = some_plant();
  const auto file = write("export.txt", bytes);
  const auto failed = [](const Diagnostics& why) {
    Outcome out;
    out.failures = {to_text(why)};
    return out;
  };
  const auto sketched = sketch_map({file}, &plant);
  if (!sketched.ok()) return failed(sketched.diagnostics());
  std::string map = sketched.value().map;
  for (const auto& answer : stated) {
    const std::size_t at = map.find(answer.first);
    REQUIRE_MESSAGE(at != std::string::npos, answer.first << " is not in\n" << map);
    map.replace(at, answer.first.size(), answer.second);
  }
  const auto source = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), map);
  };
  const auto loaded = plan::load_channels("channels.toml", plant, source);
  if (!loaded.ok()) return failed(loaded.diagnostics());
  return read_files({file}, loaded.value());
}

inline std::vector<std::string> failures_with_its_sketch(const std::string& bytes) {
  return read_with_its_sketch(bytes).failures;
}

// Rows a second apart from 2031-03-04T00:00:00Z on, as `cells` gives them for each.
template <class F>
std::string rows(int n, F cells) {
  std::string out;
  for (int i = 0; i < n; ++i)
    out += fmt::format("2031-03-04T{:02}:{:02}:{:02}Z,{}\n", i / 3600, i / 60 % 60, i % 60, cells(i));
  return out;
}

}  // namespace vacuary::log::test
