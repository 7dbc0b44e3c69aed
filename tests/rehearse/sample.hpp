// The sample plan and rehearsed logs as columns, for the tests of this room.
#pragma once

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "rehearse/rehearse.hpp"

namespace sample {

using namespace vacuary;

inline const plan::Plan& recipe() {
  static const plan::Plan plan = [] {
    const auto loaded =
        plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
    REQUIRE_MESSAGE(loaded.ok(), to_text(loaded.diagnostics()));
    return loaded.value();
  }();
  return plan;
}

// A log as text cells by column. No cell of ours is quoted.
struct Log {
  std::map<std::string, std::vector<std::string>> cells;
  std::vector<std::string> headers;

  explicit Log(const std::string& csv) {
    std::istringstream lines(csv);
    std::string line;
    std::getline(lines, line);
    headers = split(line);
    while (std::getline(lines, line)) {
      const std::vector<std::string> row = split(line);
      REQUIRE(row.size() == headers.size());
      for (std::size_t i = 0; i < row.size(); ++i) {
        cells[headers[i]].push_back(row[i]);
      }
    }
  }

  static std::vector<std::string> split(const std::string& line) {
    std::vector<std::string> fields(1);
    for (const char c : line) {
      if (c == ',') {
        fields.emplace_back();
      } else {
        fields.back() += c;
      }
    }
    return fields;
  }

  [[nodiscard]] std::size_t rows() const { return cells.at("time").size(); }
  [[nodiscard]] const std::vector<std::string>& text(const std::string& header) const {
    return cells.at(header);
  }
  [[nodiscard]] double number(const std::string& header, std::size_t row) const {
    const std::string& cell = cells.at(header)[row];
    return cell.empty() ? std::numeric_limits<double>::quiet_NaN() : std::stod(cell);
  }
  [[nodiscard]] Instant time(std::size_t row) const {
    Instant instant;
    REQUIRE(from_rfc3339(text("time")[row], instant));
    return instant;
  }
  // Rows of a step, first and one past last.
  [[nodiscard]] std::pair<std::size_t, std::size_t> step(const std::string& name) const {
    const auto& steps = text("run.step");
    std::size_t first = 0;
    while (first < steps.size() && steps[first] != name) {
      ++first;
    }
    std::size_t last = first;
    while (last < steps.size() && steps[last] == name) {
      ++last;
    }
    REQUIRE(last > first);
    return {first, last};
  }
};

struct Run {
  Log log;
  nlohmann::json truth;
  std::string csv, truth_text;
};

inline rehearse::Fault fault(const std::string& text) {
  const auto parsed = rehearse::parse_fault(text);
  REQUIRE_MESSAGE(parsed.ok(), to_text(parsed.diagnostics()));
  return parsed.value();
}

inline Run run(const plan::Plan& plan, const rehearse::Options& options) {
  const auto done = rehearse::rehearse(plan, options);
  REQUIRE_MESSAGE(done.ok(), to_text(done.diagnostics()));
  return {Log(done.value().log_csv), nlohmann::json::parse(done.value().truth_json), done.value().log_csv,
          done.value().truth_json};
}

inline Run run(std::uint64_t seed, const std::vector<std::string>& faults, bool scatter = true) {
  rehearse::Options options;
  options.seed = seed;
  options.scatter_plant = scatter;
  for (const std::string& text : faults) {
    options.faults.push_back(fault(text));
  }
  return run(recipe(), options);
}

}  // namespace sample
