// The plant as it is: what flows, burns, turns and deposits at each tick, without any instrument
// between. Disturbances come in, the state goes out.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "rehearse/control.hpp"
#include "rehearse/faults.hpp"
#include "rehearse/film.hpp"
#include "rehearse/plant.hpp"
#include "rehearse/random.hpp"
#include "rehearse/vessel.hpp"

namespace vacuary::rehearse {

struct SupplyState {
  double power_w = 0, voltage_v = 0, current_a = 0;  // true
  double energy_j = 0;                               // by its own counter, so with its meter's gain
  double arcs = 0;                                   // by its own counter
};

struct CathodeState {
  double oxide = 1;         // how much of the target's oxide is left, 1 at the first ignition
  double oxide_drop_v = 0;  // how much oxide lowers the voltage now
  double open = 0;          // of the shutter
  double open_shown = 0;    // what the position transmitter says
  double opening_s = 0;     // since the shutter was told to open
  double temperature_c = 18;
};

struct StepRecord {
  std::string why;  // what ended it
  std::int64_t start_ms = 0, end_ms = 0;
};

struct State {
  std::int64_t ms = 0;  // since the run began
  std::size_t step = 0;
  Valves valves;
  std::vector<double> flow_mol_s;  // true
  std::vector<double> flow_shown;  // what the controllers measure, mol/s
  std::vector<SupplyState> supplies;
  std::vector<CathodeState> cathodes;
  double drive_rad = 0;    // angle turned by the drive since the run began
  double optic_rad = 0;    // and by the optic
  double speed_rad_s = 0;  // as the drive reports it
  double optic_c = 20, vessel_c = 20, cryo_k = 11.8;
  std::string alarm = "none";
};

// Kernels by cathode; the same for every run of one plant, and dear to make.
class Kernels {
 public:
  Kernels(const plan::Plan& plan, const Plant& plant);
  [[nodiscard]] const Kernel& of(std::size_t cathode);
  [[nodiscard]] FilmGrid empty_film() const;

 private:
  const plan::Plan* plan_;
  const Plant* plant_;
  std::vector<std::unique_ptr<Kernel>> kernels_;
};

class Machine {
 public:
  // All must outlive the machine.
  Machine(const plan::Plan& plan, const Plant& plant, Kernels& kernels, std::uint64_t seed);

  [[nodiscard]] bool finished() const { return control_.finished(); }
  void tick(std::int64_t dt_ms, const Disturbance& d);

  [[nodiscard]] const State& state() const { return state_; }
  [[nodiscard]] const Vessel& vessel() const { return vessel_; }
  [[nodiscard]] const FilmGrid& film() const { return film_; }
  [[nodiscard]] const std::vector<StepRecord>& steps() const { return steps_; }
  [[nodiscard]] bool plasma() const;  // in a step with a discharge: things change fast

 private:
  [[nodiscard]] Sight look() const;
  [[nodiscard]] double shown_pressure_pa(double where_pa) const;
  void read_gauges(const Disturbance& d);
  void advance_step();
  void move_gas(double dt_s, const Disturbance& d);
  void run_cathode(double dt_s, const Disturbance& d);
  void run_glow(double dt_s);
  void turn(double dt_s, const Disturbance& d);
  void move_shutters(double dt_s, const Disturbance& d);
  void fill_vessel(double dt_s, const Disturbance& d);
  void lay_film(double dt_s, double before_rad);
  void warm(double dt_s, const Disturbance& d);
  void raise_alarms(double dt_s, const Disturbance& d);
  [[nodiscard]] double film_per_energy(std::size_t cathode) const;
  [[nodiscard]] std::size_t supply_of(const std::string& name) const;

  const plan::Plan* plan_;
  const Plant* plant_;
  Kernels* kernels_;
  std::uint64_t seed_;
  Control control_;
  Vessel vessel_;
  FilmGrid film_;
  State state_;
  std::vector<StepRecord> steps_;
  // One stream per thing that is noisy: what happens to one leaves the others as they were.
  struct Noise {
    Noise(std::uint64_t seed, std::size_t step);
    Random power, voltage, arcs, glow, glow_arcs, drive;
  } noise_;
  std::vector<double> gauge_shown_pa_;  // what each gauge shows the controller
  double setpoint_w_ = 0;               // ramped power setpoint
  double ripple_ = 0;                   // slow regulation error of the power, relative
  double glow_a_ = 0;
  double wet_pa_m3_ = -1;            // liquid water put in by a fault, once
  std::vector<double> deviation_s_;  // how long each flow has been off its setpoint
};

}  // namespace vacuary::rehearse
