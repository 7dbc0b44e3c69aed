// Vacuum health: base pressure, how the pressure fell, how it rose.
#pragma once

#include <array>
#include <map>

#include "run/leak.hpp"
#include "run/pressure.hpp"
#include "run/rises.hpp"
#include "run/watch.hpp"

namespace vacuary::run {

// Least squares of ln p against ln t between 1 h and 10 h after the clock's zero, every row one
// point. The uncertainty is by jackknife over ten stretches of equal ln t, because neighbouring
// rows share their errors. Bounded: sums per stretch.
class PowerLawFit {
 public:
  void add(double t_s, double pressure_pa);
  // Nothing when fewer than 20 points or less than a factor 2 in time.
  [[nodiscard]] std::optional<PowerLaw> result() const;

 private:
  static constexpr std::size_t bins = 50;
  std::array<LineSums, bins> sums_;
  double first_s_ = no_value, last_s_ = no_value;
};

class VacuumWatch {
 public:
  explicit VacuumWatch(const Scene& scene);
  void take(const Stretch& rows);
  // A gauge was beyond its range between these times (the reader says so).
  void saturated(Instant from, Instant to);
  [[nodiscard]] VacuumHealth health() const;
  // Leak, late base pressure, film begun before base pressure.
  void finish(const model::Prediction& prediction, Findings& findings) const;
  // Lowest pressure of a step's rows, no_value if none.
  [[nodiscard]] double lowest_pa(int step) const;
  // Where the pressure was heading: the lowest, or one row further down the fall it was in.
  [[nodiscard]] double reached_pa(int step) const;
  [[nodiscard]] double highest_pa(int step) const;

  // What the health of the vacuum is judged from.
  struct Seen {
    std::optional<Instant> zero;  // pumping start
    bool from_air = false;        // the log begins with air in the vessel
    double plateau_s = 0;         // time spent where water boils off
    double pressure_1h_pa = no_value;
    double base_s = no_value;  // from pumping start to the history's base pressure
    std::optional<PressureFall::Inflow> fall;
    int base_step = -1;
  };
  [[nodiscard]] Seen seen() const;

 private:
  struct Channel {
    std::string name;
    std::size_t gauge = 0;
    std::size_t less = npos;  // index of the twin whose reading is taken off
    PowerLawFit fit;
    bool negative = false;  // the difference was not above zero throughout
  };
  static constexpr std::size_t npos = static_cast<std::size_t>(-1);
  struct StepPressure {
    bool seen = false;
    Moment first, lowest_at, last;
    double lowest_pa = no_value, highest_pa = no_value, last_pa = no_value, next_pa = no_value;
  };
  void pumping_row(const Row& row);
  void keep_extremes(const Stretch& rows);
  void find_zero(const Row& row);
  void watch_vent(const Row& row);
  [[nodiscard]] double as_read(std::size_t gauge, const Row& row) const;
  [[nodiscard]] int base_step() const;
  [[nodiscard]] std::optional<Vent> vent_beyond_range() const;
  void tell_base(const model::Prediction& prediction, Findings& findings) const;
  void tell_leak(Findings& findings) const;
  void tell_wet_load(Findings& findings) const;
  void tell_zeros(Findings& findings) const;
  void watch_plateau(const Row& row);
  void watch_normal(const Row& row, double t_s);
  [[nodiscard]] double base_uncertainty(const StepPressure& at) const;

  const Scene& scene_;
  std::vector<Channel> channels_;
  std::vector<StepPressure> steps_;
  RiseWatch rises_;
  PressureFall fall_;  // of the vessel, true pressure
  // The clock of the pumpdown.
  bool first_row_ = true;
  Instant start_, zero_;
  bool zero_known_ = false;
  bool from_air_ = false;
  bool blind_ = false;  // every gauge is beyond its range since the first row
  std::string zero_is_;
  double lowest_pa_ = no_value, greatest_pa_ = no_value;
  // Time spent where water boils off.
  bool on_plateau_ = false;
  Moment plateau_from_, plateau_to_;
  // Against the chamber's history.
  double before_1h_s_ = no_value, before_1h_pa_ = no_value, at_1h_pa_ = no_value, base_s_ = no_value;
  // Let up at the end.
  double valley_pa_ = no_value;
  double fill_dt_s_ = 0, fill_ = 1;  // by what it fills in that time
  Instant rise_from_;
  bool lost_ = false;            // no gauge has a value
  Instant lost_from_, lost_to_;  // the latest such stretch
  std::vector<std::pair<Instant, Instant>> saturated_;
  std::optional<Vent> vent_;
  std::optional<Instant> film_start_;
};

}  // namespace vacuary::run
