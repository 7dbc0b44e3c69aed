// One rehearsed run held against its truth, and sums over many of them.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "plan/channel.hpp"
#include "plan/plan.hpp"

namespace score {

// What one run came to. Plain values, so that many can be kept.
struct Verdict {
  bool read = false;  // the account could be made
  std::string problem;
  // Film, nm.
  bool claimed = false, covered = false;
  double half_width_nm = 0, error_nm = 0;
  // Faults put in, and how many of them were found: a finding of a rule that names the fault, of its
  // nature (process, instrument, log), that overlaps it in time. `misled`: beside it or instead of it
  // a warning of another nature at that time.
  int faults = 0, found = 0, misled = 0;
  // Warnings and errors that lie at no fault's time, by rule; and notes, which ask for nothing.
  std::map<std::string, int> false_alarms;
  int notes = 0;
  // Everything that was said at a fault's time: "rule(origin)".
  std::map<std::string, int> said;
};

// Rehearses with the seed and faults, reads the log back through `scratch`, accounts for it without
// its truth, and judges. Safe to call from several threads with different scratch files.
[[nodiscard]] Verdict judge(const vacuary::plan::Plan& plan, const vacuary::plan::ChannelMap& map,
                            std::uint64_t seed, const std::vector<std::string>& faults,
                            const std::filesystem::path& scratch);

struct Tally {
  int runs = 0, read = 0, claimed = 0, covered = 0;
  int faults = 0, found = 0, misled = 0, false_alarms = 0, notes = 0, runs_with_false_alarm = 0;
  double half_width_nm = 0, error_nm = 0, error2_nm2 = 0;
  std::map<std::string, int> alarms, said;
  std::vector<std::string> problems;

  void add(const Verdict& run);
  [[nodiscard]] double found_share() const { return faults > 0 ? static_cast<double>(found) / faults : 0; }
};

}  // namespace score
