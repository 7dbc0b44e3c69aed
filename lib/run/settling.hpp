// A target that was still settling while film was laid, inside the calibrated voltage band.
//
// Oxide that is left on the target lowers the voltage and is sputtered off in the first minutes; power
// and energy show nothing of it. How far the voltage lay below where it came to rest is what can be seen
// of it; what the voltage rests at says nothing, plants differ. An oxide that stays (a weep) inside the
// band is not seen here.
#pragma once

#include <vector>

#include "run/sums.hpp"

namespace vacuary::run {

class Settling {
 public:
  // Rows with film being laid, in order. J, V, Pa (NaN: not known, taken as usual).
  void add(double energy_j, double voltage_v, double pressure_pa);
  // How far the voltage lay below where it came to rest, mean over the energy, V: below that of the last
  // tenth of the energy, or below where its curve is bound for if it still rises by less and less. Only
  // stretches at like pressure are compared, since gas moves the voltage too.
  [[nodiscard]] double mean_below_v() const;

 private:
  struct Stretch {
    double energy_j = 0, energy_v = 0, energy_pa = 0;  // J, J V, J Pa
    void add(const Stretch& other) {
      energy_j += other.energy_j;
      energy_v += other.energy_v;
      energy_pa += other.energy_pa;
    }
  };
  [[nodiscard]] std::vector<Stretch> compared(double& all_j, double& last_v) const;
  [[nodiscard]] static double bound_for_v(const std::vector<Stretch>& pieces, double last_v);
  static constexpr std::size_t most = 256;
  std::vector<Stretch> stretches_;  // of as many neighbouring rows each as it takes
  Stretch in_hand_;
  std::size_t rows_in_hand_ = 0, rows_a_stretch_ = 8;
};

}  // namespace vacuary::run
