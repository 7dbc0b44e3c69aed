// What the plant's controller does in each kind of step: it sees what the plant shows it and sets
// valves, flows, supplies, rotation and shutter. Each kind of step is one function in control.cpp.
#pragma once

#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::rehearse {

// What the controller sees. Pressures as its gauge shows them.
struct Sight {
  double step_s = 0;        // since the step began
  double pressure_pa = 0;   // by the gauge that is best at this pressure
  double for_end_pa = 0;    // by the gauge that is best where the step's pressure ends it
  bool atmosphere = false;  // the switch that says the vessel may be opened
  double power_share = 0;   // power over its setpoint, cathode in use
  double speed_share = 0;   // of the commanded rotation
  double open = 0;          // of the shutter of the cathode in use
  double drive_rad = 0;     // angle the drive has turned since the run began
  double energy_j = 0;      // by the supply's counter
};

struct Commands {
  bool roughing = false, high_vacuum = false;
  double throttle = 1;
  std::vector<double> flow_mol_s;  // per gas line
  std::size_t cathode = 0;
  double power_w = 0, ramp_s = 0;
  bool glow = false;
  double glow_v = 0, glow_a = 0;
  double speed_rad_s = 0;
  bool open = false;
  bool vent = false;
};

class Control {
 public:
  explicit Control(const plan::Plan& plan);

  [[nodiscard]] bool finished() const { return step_ >= plan_->recipe.steps.size(); }
  [[nodiscard]] std::size_t step() const { return step_; }
  [[nodiscard]] const plan::Step& current() const { return plan_->recipe.steps[step_]; }
  [[nodiscard]] const Commands& commands() const { return commands_; }

  // One look and one decision. True when the step ended here, `why` says on what; the next
  // step's first decision comes with the next look.
  bool decide(const Sight& sight, std::string& why);

 private:
  bool pumpdown(const Sight& sight, std::string& why);
  bool plasma_clean(const Sight& sight, std::string& why);
  bool presputter(const Sight& sight, std::string& why);
  bool sputter(const Sight& sight, std::string& why);
  bool hold(const Sight& sight, std::string& why);
  bool vent(const Sight& sight, std::string& why);

  void select_pumps(const Sight& sight);
  void select_gas();
  void set_power();
  [[nodiscard]] bool reached(const Sight& sight, std::string& why) const;

  const plan::Plan* plan_;
  std::size_t step_ = 0;
  Commands commands_;
  bool on_high_vacuum_ = false;
  bool filled_ = false;   // plasma clean: the wanted pressure has been reached once
  bool opened_ = false;   // sputter: the shutter has been told to open
  bool closing_ = false;  // sputter: and to close again
  double opened_rad_ = 0, opened_j_ = 0, opened_s_ = 0;
  std::string closing_why_;
};

}  // namespace vacuary::rehearse
