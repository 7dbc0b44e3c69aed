// Which column of the log is what to the account, and what the account must do without.
#pragma once

#include <string>
#include <vector>

#include "run/run.hpp"

namespace vacuary::run {

// Indexes into log::Header::channels; -1: the log has no such channel.
struct CathodeRoles {
  const plan::Cathode* cathode = nullptr;
  const plan::Supply* supply = nullptr;
  int power = -1, voltage = -1, current = -1, energy = -1, arcs = -1, open = -1;
};
struct GaugeRoles {
  const plan::Gauge* gauge = nullptr;
  int pressure = -1;
};
struct FlowRoles {
  const plan::GasLine* line = nullptr;
  int flow = -1;
};
struct SupplyRoles {
  const plan::Supply* supply = nullptr;
  int power = -1, voltage = -1, current = -1;
};

struct Roles {
  std::vector<CathodeRoles> cathodes;  // those of the recipe's steps, or all
  std::vector<GaugeRoles> gauges;
  std::vector<FlowRoles> flows;
  SupplyRoles glow;
  int chamber_pressure = -1;
  int speed = -1, angle = -1, index = -1;
  int step = -1;
};

[[nodiscard]] Roles find_roles(const plan::Plan& plan, const log::Header& header);

// "cathode-supply.voltage: without it ..." for each channel that is wanted and not there.
[[nodiscard]] std::vector<std::string> missing_channels(const plan::Plan& plan, const log::Header& header,
                                                        const Roles& roles);

// Does any step lay film?
[[nodiscard]] bool lays_film(const plan::Plan& plan);

}  // namespace vacuary::run
