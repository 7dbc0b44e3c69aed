// What the log shows of the pumps: effective speeds, how the pressure at one flow grows, and gas that
// comes once per turn of the optic.
//
//   (V1)  S = S0 (p0 / F0) / (p / F)      S0, p0, F0: speed, pressure and flow of the plan
//   (V2)  (W2) of physics/pumpdown_fit.hpp between two pressures of the roughing pump's table
//   (V3)  p / F folded over the angle of the optic: pulse = highest of 24 bins over the median bin,
//         believed from three turns on when it is 6 times what chance would give
#pragma once

#include <array>

#include "run/thinned.hpp"
#include "run/watch.hpp"

namespace vacuary::run {

// A signal against the angle of the optic, turn by turn.
class Fold {
 public:
  void add(double turned_rad, double angle_rad, double value);
  struct Pulse {
    double turns = 0, height = 0, base = 0, at_rad = 0;  // height over base, relative
  };
  [[nodiscard]] std::optional<Pulse> pulse() const;

 private:
  static constexpr std::size_t bins = 24;
  struct Bin {
    Sum now;
    std::uint64_t n = 0;  // of the present turn
    Sum means, squares;   // over turns
    std::uint64_t turns = 0;
  };
  void close_turn();
  std::array<Bin, bins> bins_;
  double turn_from_rad_ = 0;
  bool any_ = false;
  std::uint64_t turns_ = 0;
};

class PumpWatch {
 public:
  explicit PumpWatch(const Scene& scene);
  void take(const Stretch& rows);
  void tell(VacuumHealth& health) const;

 private:
  struct GasStep {
    Thinned ratio;  // p / F, Pa s/mol
    Fold fold;
    Thinned at_rest;  // the same with the optic at rest
    double turned_rad = 0;
    Sum flow, gauge_u;
    std::uint64_t n = 0;
    Instant start;
    bool any = false;
  };
  struct Stage {  // of a roughing pump in one step
    int step;
    const plan::Pump* pump;
    double high_pa, low_pa, speed_m3_s;
    Instant start;
    bool any = false;
    Thinned samples;
  };
  void gas_rows(const Stretch& rows, const plan::Step& step);
  static void stage_rows(const Stretch& rows, Stage& stage);
  void tell_gas(std::size_t step, VacuumHealth& health) const;
  void tell_stage(const Stage& stage, VacuumHealth& health) const;
  [[nodiscard]] double flow_uncertainty(const plan::Step& step, double flow_mol_s) const;

  const Scene& scene_;
  std::vector<GasStep> gas_;
  std::vector<Stage> stages_;
  double last_angle_rad_ = no_value;
};

}  // namespace vacuary::run
