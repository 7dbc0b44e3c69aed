// What faults do, inside this room. Each fault is one row of the table in faults.cpp: what it is
// called, its settings, when it counts from, and one function that says what it disturbs. The plant
// and the instruments know disturbances, not faults: a new fault touches nothing else.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "rehearse/rehearse.hpp"

namespace vacuary::rehearse {

// Where a fault's `at` counts from.
enum class Anchor { run, base, target, film };

// Everything that can be wrong at one moment. Vectors run parallel to the chamber's lists.
struct Disturbance {
  // Supply of the cathode in use.
  bool supply_off = false;
  double power_gain = 1, voltage_gain = 1, voltage_noise_v = 0, arcs_per_s = 0;
  // Oxide on the target: overrides of a normal target, 0 for none; and what never clears.
  double oxide_v = 0, oxide_s = 0, oxide_stays_v = 0;
  // Gas.
  std::vector<double> flow_gain;  // per gas line
  double air_pa_m3_s = 0, water_pa_m3_s = 0, water_with_power_pa_m3_s = 0;
  double outgassing_gain = 1, vapour_pa = 0, liquid_s = 0, cryo_gain = 1, cryo_k = 0;
  // Optic and shutter.
  bool stalled = false;
  double slip_share = 0;  // of the drive's angle that the optic does not follow
  double open_at_most = 1;
  // Instruments and logger.
  std::vector<double> gauge_gain, gauge_zero_pa;
  double switch_late_s = 0;
  double clock_s = 0;
  bool no_rows = false;
  std::vector<std::string> frozen;  // devices
};

// A fault with its settings as numbers, placed in the recipe.
struct Placed {
  const FaultKind* kind = nullptr;
  void (*act)(const Placed&, double since_s, double turned_rad, Disturbance&) = nullptr;
  Fault given;
  std::map<std::string, double> number;  // SI; flows in Pa m3/s
  std::size_t step = 0;                  // `at` counts from the start of this step
  std::size_t device = 0;                // index of the gauge or gas line, where it has one
  std::string device_name;

  [[nodiscard]] double operator[](const std::string& setting) const { return number.at(setting); }
};

[[nodiscard]] Disturbance undisturbed(const plan::Chamber& chamber);

// Finds step and device and turns all settings into numbers; complains with rule `bad-fault`.
[[nodiscard]] Result<std::vector<Placed>> place(const std::vector<Fault>& faults, const plan::Plan& plan);

// One row of the table.
struct FaultRow {
  FaultKind kind;
  Anchor anchor = Anchor::film;
  // Which device the fault is on when none is given, or what the given one must be.
  enum class Device { none, gas_line, capacitance_gauge, ion_gauge, any_gauge, any } device = Device::none;
  void (*act)(const Placed&, double since_s, double turned_rad, Disturbance&) = nullptr;
};
[[nodiscard]] const std::vector<FaultRow>& fault_table();

}  // namespace vacuary::rehearse
