// Rehearsed logs as text, cell by cell, and their accounts: what a logger, a link or a stamp did wrong is
// put in by hand, and the film is known from the log as it was.
#pragma once

#include <functional>
#include <sstream>

#include "run/both_ways.hpp"
#include "run/rehearsed.hpp"

namespace vacuary::run::test {

// Column of a header name; the time is 0.
inline std::size_t column_of(const std::string& header, const std::string& name) {
  const std::vector<std::string> heads = cells_of(header);
  for (std::size_t c = 0; c < heads.size(); ++c) {
    if (heads[c].rfind(name, 0) == 0) return c;
  }
  FAIL("no such column");
  return 0;
}

struct Csv {
  std::string header;
  std::vector<std::vector<std::string>> rows;
  std::size_t film_from = 0;  // the first row of the film step

  explicit Csv(std::uint64_t seed) {
    rehearse::Options options;
    options.seed = seed;
    options.map = &sample_map();
    const auto made = rehearse::rehearse(sample_plan(), options);
    REQUIRE(made.has_value());
    std::istringstream in(made.value().log_csv);
    std::getline(in, header);
    const std::size_t step = column_of(header, "run.step");
    for (std::string line; std::getline(in, line);) {
      rows.push_back(cells_of(line));
      if (film_from == 0 && rows.back()[step] == "coat") film_from = rows.size() - 1;
    }
  }
  std::string& cell(std::size_t row, const std::string& name) { return rows[row][column_of(header, name)]; }
  // The first row behind the film step.
  [[nodiscard]] std::size_t film_to() const {
    const std::size_t step = column_of(header, "run.step");
    std::size_t r = film_from;
    while (r < rows.size() && rows[r][step] == "coat") ++r;
    return r;
  }
  [[nodiscard]] Instant time(std::size_t row) const {
    Instant time;
    REQUIRE(from_rfc3339(rows[row][0], time));
    return time;
  }
  void drop(const std::string& name) {
    const auto c = static_cast<std::ptrdiff_t>(column_of(header, name));
    std::vector<std::string> heads = cells_of(header);
    heads.erase(heads.begin() + c);
    header = line_of(heads);
    for (auto& row : rows) row.erase(row.begin() + c);
  }
  [[nodiscard]] std::string text() const {
    std::string text = header + "\n";
    for (const auto& row : rows) text += line_of(row) + "\n";
    return text;
  }
  [[nodiscard]] Account account(const plan::Plan& plan = sample_plan(),
                                const plan::ChannelMap& map = sample_map()) const {
    return account_of(plan, map, read_plainly(text(), plan.chamber.reference));
  }
  // By the reader.
  [[nodiscard]] Account read(const plan::Plan& plan = sample_plan(),
                             const plan::ChannelMap& map = sample_map()) const {
    const Result<Account> made = account_of_text(text(), map, plan);
    REQUIRE(made.has_value());
    return made.value();
  }
  // Each row of the film dated anew: by its number within it.
  void date_film(const std::function<std::int64_t(std::int64_t)>& second) {
    const Instant start = time(film_from);
    const std::size_t to = film_to();
    for (std::size_t r = film_from; r < to; ++r) {
      const auto n = static_cast<std::int64_t>(r - film_from);
      rows[r][0] = to_rfc3339(Instant{start.ns + second(n) * 1'000'000'000});
    }
  }
};

inline double mean_nm(const Account& a) { return a.film.mean.value.value() * 1e9; }
// Expanded, k = 2.
inline double half_nm(const Account& a) { return 2e9 * a.film.mean.standard_uncertainty.value(); }

// The sample plan with a second cathode and supply, and a second film step over it.
inline plan::Plan two_cathode_plan() {
  plan::Plan plan = sample_plan();
  auto& chamber = plan.chamber;
  chamber.supplies.push_back(*plan::supply(chamber, chamber.cathodes.front().supply.value));
  chamber.supplies.back().name.value = "second-supply";
  chamber.cathodes.push_back(chamber.cathodes.front());
  chamber.cathodes.back().name.value = "second";
  chamber.cathodes.back().supply.value = "second-supply";
  auto& steps = plan.recipe.steps;
  const auto coat =
      std::find_if(steps.begin(), steps.end(), [](const plan::Step& s) { return s.name.value == "coat"; });
  plan::Step again = *coat;
  again.name.value = "coat again";
  again.cathode->value = "second";
  steps.insert(coat + 1, again);
  return plan;
}
// A log of one cathode as if the second half of its film had been laid by the second.
inline Csv over_two_cathodes(const Csv& one) {
  Csv log = one;
  const std::vector<std::string> moved = {"cathode-supply.power", "cathode-supply.voltage",
                                          "cathode-supply.current", "cathode-supply.energy", "cathode.open"};
  log.header +=
      ",second-supply.power [kW],second-supply.voltage [V],second-supply.current [A],second-supply.energy "
      "[kWh],second.open [%]";
  const std::size_t step = column_of(log.header, "run.step");
  const std::size_t film_to = log.film_to();
  const std::size_t change = (log.film_from + film_to) / 2;
  for (std::size_t r = 0; r < log.rows.size(); ++r) {
    const bool second = r >= change;
    for (const std::string& name : moved) {
      std::string& first = log.rows[r][column_of(one.header, name)];
      const bool counter = name == "cathode-supply.energy";
      log.rows[r].push_back(!second   ? (counter ? "1000" : "0")
                            : counter ? std::to_string(580 + std::strtod(first.c_str(), nullptr))
                                      : first);
      if (second && !counter) first = "0";
    }
    if (second && r < film_to) log.rows[r][step] = "coat again";
  }
  return log;
}

}  // namespace vacuary::run::test
