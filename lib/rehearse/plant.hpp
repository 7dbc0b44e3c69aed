// The true parameters of one simulated plant, drawn around what the plan states.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::rehearse {

struct CathodeTruth {
  double film_gain = 1;  // true film per energy over the calibrated one; stated uncertainty
  // As built: each with the standard uncertainty that the plan states.
  double throw_m = 0, exponent = 1;
  double racetrack_inner_m = 0, racetrack_outer_m = 0;  // where its ends are, over the plan's
  double shield_opening_m = 0, shield_height_m = 0;     // opening and height over the plan's
  double p0d0_gain = 1;                                 // of the transport of sputtered atoms; assumed 30 %
  double voltage_gain = 1;  // discharge voltage over the calibration's; assumed 0.8 %
  double oxide_v = 80;      // how much a new target's voltage starts low; assumed 70 to 90 V
  double oxide_s = 110;     // time constant of its recovery at full power; assumed 90 to 120 s
};

struct GaugeTruth {
  double gain = 1;     // reading over what it should read; stated accuracy
  double zero_pa = 0;  // stated zero drift
};

// Vectors run parallel to the chamber's lists of the same things.
struct Plant {
  std::vector<CathodeTruth> cathodes;
  std::vector<double> outgassing_gain;  // per surface; assumed 15 %
  double leak_pa_m3_per_s = 0;          // uniform from 0.2 to 0.9 of the leak limit
  double roughing_gain = 1;             // pumping speed; assumed 3 %
  double cryo_gain = 1;                 // pumping speed; assumed 2 %
  std::vector<GaugeTruth> gauges;
  std::vector<double> flow_error;  // true minus reading over full scale; stated accuracy
  std::vector<double> meter_gain;  // reading over true power; stated accuracy
  double encoder_offset_rad = 0;   // how the optic lies on its drive, over the recipe's; stated
  double angle_at_start_rad = 0;   // how the optic stands when the run begins; uniform
};

// scatter == false: gains are 1, errors 0, the leak half its limit.
[[nodiscard]] Plant draw_plant(const plan::Plan& plan, std::uint64_t seed, bool scatter);

}  // namespace vacuary::rehearse
