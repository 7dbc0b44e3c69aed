// The gas in the vessel: one pressure per gas, V dp/dt = Q - S p, solved exactly over each tick
// with Q and S held. All in Pa, m3/s and Pa m3/s at the chamber's gas temperature.
//
// Simplified: walls give off water only, q = q_1h ((t + 60 s) / 1 h)^-n from the start of pumping
// (the 60 s keep it finite); air is nitrogen; speeds do not depend on pressure but for the roughing
// stages; water goes back to the walls with a time constant of 40 min, which matters only with all
// valves shut; liquid water has a constant vapour pressure until it is gone and does not freeze.
#pragma once

#include <string>
#include <vector>

#include "plan/plan.hpp"
#include "rehearse/plant.hpp"

namespace vacuary::rehearse {

// How the valves stand, 0 shut to 1 open.
struct Valves {
  double roughing = 0;
  double high_vacuum = 0;
  double throttle = 1;
};

// What flows in besides outgassing and the drawn leak.
struct Inflow {
  std::vector<double> gas;     // per gas line
  double air = 0;              // a fault's leak
  double water = 0;            // a fault's water
  double vent = 0;             // dry nitrogen
  double outgassing_gain = 1;  // wet walls
  double desorption = 1;       // by the plasma
  double argon_gain = 1;       // of the argon pumping speed: gas heated and buried by the discharge
  double cryo_gain = 1;        // of the high-vacuum speeds but for water, which freezes on the first stage
  double vapour_pa = 0;        // over liquid water
};

class Vessel {
 public:
  Vessel(const plan::Chamber& chamber, const Plant& plant, double water_at_start_pa);

  void tick(double dt_s, const Valves& valves, const Inflow& in);
  void add_liquid_water(double pa_m3) { liquid_pa_m3_ += pa_m3; }

  [[nodiscard]] double total_pa() const;
  [[nodiscard]] double gas_pa(const std::string& gas) const;
  [[nodiscard]] const std::vector<std::string>& gases() const { return gases_; }
  [[nodiscard]] const std::vector<double>& pressures_pa() const { return p_; }

  // Of all roughing pumps at a pressure, fully open.
  [[nodiscard]] double roughing_speed(double total_pa) const;
  // Of all high-vacuum pumps through their valves, fully open.
  [[nodiscard]] double high_vacuum_speed(std::size_t gas) const { return high_vacuum_[gas]; }

 private:
  [[nodiscard]] double outgassing(double pumped_s) const;
  [[nodiscard]] std::size_t index_of(const std::string& gas);

  const plan::Chamber* chamber_;
  const Plant* plant_;
  double volume_m3_;
  double ultimate_pa_ = 0;
  double pumped_s_ = 0;
  double liquid_pa_m3_ = 0;
  std::size_t air_ = 0, water_ = 0;
  std::vector<std::string> gases_;
  std::vector<double> p_;
  std::vector<double> high_vacuum_;
  std::vector<std::size_t> line_gas_;
};

}  // namespace vacuary::rehearse
