// Reads and accounts for a log twice: with the reader's figures of each part, and row by row. The reader sees
// what a log read plainly does not: gaps, digits that were lost, codes for no reading.
#pragma once

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>

#include "run/hand.hpp"

namespace vacuary::run::test {

inline void same_figures(const Account& a, const Account& b) {
  const auto near = [](double x, double y) { return x == y || std::abs(x - y) <= 1e-12 * std::abs(y); };
  REQUIRE(a.steps.size() == b.steps.size());
  for (std::size_t s = 0; s < a.steps.size(); ++s) {
    REQUIRE(a.steps[s].figures.size() == b.steps[s].figures.size());
    for (std::size_t i = 0; i < a.steps[s].figures.size(); ++i) {
      const Figure &f = a.steps[s].figures[i], &g = b.steps[s].figures[i];
      CAPTURE(a.steps[s].step);
      CAPTURE(f.channel.name());
      CHECK(f.good == g.good);
      CHECK(f.bad == g.bad);
      CHECK(f.minimum_si == g.minimum_si);
      CHECK(f.maximum_si == g.maximum_si);
      CHECK(f.last_si == g.last_si);
      CHECK(near(f.mean_si, g.mean_si));
      CHECK(near(f.integral_si_s, g.integral_si_s));
    }
  }
}

inline Result<Account> account_both_ways(const std::filesystem::path& file, const plan::ChannelMap& map,
                                         const plan::Plan& plan = sample_plan()) {
  log::Options options;
  options.wanted = wanted_channels(plan, map);
  options.gas = plan.chamber.reference;
  auto by_rows = log::Reader::open({file}, map, options);
  options.figures = true;
  auto by_parts = log::Reader::open({file}, map, options);
  REQUIRE_MESSAGE(by_parts.ok(), to_text(by_parts.diagnostics()));
  Result<Account> out = account(plan, map, by_parts.value());
  const Result<Account> plain = account(plan, map, by_rows.value());
  if (out.has_value()) same_figures(out.value(), plain.value());
  return out;
}

inline Result<Account> account_of_text(const std::string& text, const plan::ChannelMap& map,
                                       const plan::Plan& plan = sample_plan()) {
  const auto path =
      std::filesystem::temp_directory_path() / fmt::format("vacuary-test-run-{}.csv", ::getpid());
  std::ofstream(path, std::ios::binary) << text;
  Result<Account> made = account_both_ways(path, map, plan);
  std::filesystem::remove(path);
  return made;
}

}  // namespace vacuary::run::test
