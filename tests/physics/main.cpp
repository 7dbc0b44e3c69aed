// Runs the tests of the models and, when all of them ran, holds the table of outside checks in
// lib/physics/README.md against what was found. VACUARY_WRITE_TABLE=1 rewrites it.
#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "outside.hpp"

namespace vacuary::physics_test {
namespace {

std::vector<OutsideRow>& rows() {
  static std::vector<OutsideRow> all;
  return all;
}

std::string agreement(const OutsideRow& row) {
  const double off = std::abs(row.got - row.expected) / std::abs(row.expected);
  // Below a part in 10^9 the last digits of the processor's mathematics show: not a figure to print.
  if (off < 1e-9) return "< 1e-9";
  return fmt::format("{:.0e}", off);
}

std::string table() {
  std::vector<OutsideRow> sorted = rows();
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const OutsideRow& a, const OutsideRow& b) { return a.model < b.model; });
  std::string text =
      "| model | quantity | outside value | agreement | held to | source |\n|---|---|---|---|---|---|\n";
  for (const OutsideRow& row : sorted) {
    text += fmt::format("| {} | {} | {:.6g} | {} | {:.0e} | {} |\n", row.model, row.what, row.expected,
                        agreement(row), row.tolerance, row.source);
  }
  return text;
}

// 0 when the README carries exactly this table.
int compare_or_write() {
  const std::string path = std::string(VACUARY_SOURCE_DIR) + "/lib/physics/README.md";
  const std::string begin = "<!-- outside checks: written by test_physics -->\n",
                    end = "<!-- end of outside checks -->";
  std::ifstream in(path);
  std::stringstream buffer;
  buffer << in.rdbuf();
  const std::string text = buffer.str();
  const std::size_t from = text.find(begin), to = text.find(end);
  if (from == std::string::npos || to == std::string::npos) {
    std::cerr << path << ": the table of outside checks is not there\n";
    return 1;
  }
  for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(path).parent_path())) {
    const std::string file = entry.path().filename().string();
    if (entry.path().extension() == ".hpp" && text.find('`' + file + '`') == std::string::npos) {
      std::cerr << path << ": says nothing of " << file << "\n";
      return 1;
    }
  }
  const std::string wanted = text.substr(0, from + begin.size()) + table() + text.substr(to);
  if (wanted == text) return 0;
  if (std::getenv("VACUARY_WRITE_TABLE") != nullptr) {
    std::ofstream(path) << wanted;
    return 0;
  }
  std::cerr << path
            << ": the table of outside checks is stale; run this program with VACUARY_WRITE_TABLE=1\n";
  return 1;
}

}  // namespace

void outside(const std::string& model, const std::string& what, double got, double expected, double tolerance,
             const std::string& source, const std::string& why) {
  INFO(model << ": " << what << ": got " << got << ", " << source << " has " << expected << " (tolerance "
             << tolerance << ": " << why << ")");
  CHECK(std::abs(got - expected) <= tolerance * std::abs(expected));
  rows().push_back({model, what, expected, got, tolerance, source});
}

const std::vector<OutsideRow>& outside_rows() { return rows(); }

}  // namespace vacuary::physics_test

int main(int argc, char** argv) {
  doctest::Context context(argc, argv);
  const int failed = context.run();
  if (failed != 0 || context.shouldExit() || argc > 1) return failed;
  return vacuary::physics_test::compare_or_write();
}
