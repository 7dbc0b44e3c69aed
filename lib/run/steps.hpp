// Which step of the recipe each row belongs to.
//
// From the step column when the log has one: the map's names first, then the recipe's own. Without
// one from what the plant did, by kind in recipe order: glow power with gas, cathode power with the
// shutter shut or open, power and gas off, pressure rising to atmosphere.
#pragma once

#include <string>
#include <vector>

#include "run/roles.hpp"
#include "run/row.hpp"

namespace vacuary::run {

struct UnknownStep {
  std::string text;
  Instant time;
  LogLine line;
};

class Steps {
 public:
  Steps(const plan::Plan& plan, const plan::ChannelMap& map, const Roles& roles);

  // The step column's text changed (call before the row it changes at).
  void text(const std::string& text, Instant time, LogLine line);
  // The recipe step of this row, -1 for none.
  [[nodiscard]] int of(const Row& row);

  [[nodiscard]] bool from_column() const { return from_column_; }
  [[nodiscard]] const std::vector<UnknownStep>& unknown() const { return unknown_; }

 private:
  [[nodiscard]] int infer(const Row& row);
  [[nodiscard]] bool begins(std::size_t step, const Row& row) const;
  [[nodiscard]] bool stands_out(std::size_t step) const;
  [[nodiscard]] const CathodeRoles* cathode(std::size_t step) const;
  [[nodiscard]] bool powered(const Row& row, std::size_t step) const;
  [[nodiscard]] bool any_power(const Row& row) const;

  const plan::Plan& plan_;
  const plan::ChannelMap& map_;
  const Roles& roles_;
  bool from_column_ = false;
  int current_ = -1;
  double lowest_pa_ = no_value;  // of the present inferred step
  std::size_t rises_ = 0;        // rows in a row with the pressure well above it
  double unpowered_s_ = 0;
  std::vector<UnknownStep> unknown_;
};

}  // namespace vacuary::run
