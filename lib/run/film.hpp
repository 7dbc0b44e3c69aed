// The film as the energy lays it.
//
//   thickness = integral of kappa(V, p, erosion) * P * open dt
// with kappa from `model`, P the cathode's power and `open` how far the shutter is open; trapezoid
// between neighbouring rows, ramps included. Where rows are missing the energy is bounded: by the
// supply's own counter if there is one, else it lies anywhere between none and rated power
// (rectangular, JCGM 100 4.3.7). kappa is that of the calibration times the mean over the clear area
// (model::clear_area_mean), so that film is everywhere here the mean over the clear area; where on it
// the film lies is in the doses and the trace.
#pragma once

#include <cmath>
#include <future>
#include <string>
#include <utility>
#include <vector>

#include "model/film_map.hpp"
#include "run/film_trace.hpp"
#include "run/pressure.hpp"
#include "run/roles.hpp"
#include "run/row.hpp"
#include "run/settling.hpp"
#include "run/turning.hpp"

namespace vacuary::run {

// Everything one step's film needs; all SI.
struct FilmSums {
  Sum energy, film;
  Sum volt_ampere, volt_ampere_beside;  // and the power's energy over the same intervals
  Sum counter, counter_beside;
  Sum voltage_weighted, voltage_energy;
  Sum pressure_weighted, pressure_energy;
  Sum outside_band, without_voltage;  // energy
  Settling settling;                  // of the voltage, inside the band
  Sum outside_pressure;               // times energy, of the energy outside the band
  Sum angle;                          // turned while film was laid, rad
  Sum way;                            // turned from the step's first film to its last, rad
  double way_since_film_rad = 0;      // what will be part of that if film follows
  Sum gap_variance;                   // m2
  Sum sampling_variance;              // m2
  Sum pressure_reading;               // film times sensitivity times uncertainty of the reading, m
  double lowest_v = no_value, highest_v = no_value;
  double gap_s = 0;
  std::uint64_t gaps = 0;
  // Of the model's budget: film times relative contribution, m; by the names of model::FilmRate.
  std::vector<std::pair<const char*, Sum>> inputs;
};

// A gap with film being laid, as it was bounded.
struct FilmGap {
  double film_m = 0, half_width_m = 0;
  bool by_counter = false;
  double energy_j = 0;
};

class FilmMeter {
 public:
  FilmMeter(const plan::Plan& plan, const Roles& roles, const model::MapGrid& grid);

  // Reads power, voltage, shutter and rotation of the cathode in use into the row.
  void read(Row& row);
  // Whether what the cathode laid since the row before can only be bounded, though no row is missing; after
  // `read`.
  [[nodiscard]] bool unknown(const Row& row) const {
    return in_use_ != nullptr && any_ && row.dt_s > 0 && lays_in(row) && power_unknown(row);
  }
  // Lays the film of the interval before `row`; row.step must be known. Sets film_m and the rates.
  void add(Row& row);

  [[nodiscard]] const std::vector<FilmSums>& steps() const { return steps_; }
  [[nodiscard]] const FilmSums& stray() const { return stray_; }
  // The film laid in the last interval added, if it was a gap.
  [[nodiscard]] const FilmGap* last_gap() const { return last_was_gap_ ? &gap_ : nullptr; }
  [[nodiscard]] const CathodeRoles* roles_in_use() const { return in_use_; }
  // Those that laid film; when none did, the one in use last, if any.
  [[nodiscard]] std::vector<const CathodeRoles*> roles_of_film() const;
  [[nodiscard]] bool shutter_logged() const { return in_use_ != nullptr && in_use_->open >= 0; }
  // Call once, after the last row.
  void finish();
  // Widens the film by readings that turned out to be no readings (a frozen device).
  void doubt(int step, double half_width_m);
  [[nodiscard]] const std::vector<std::string>& assumed() const { return assumed_; }
  [[nodiscard]] const std::vector<std::string>& doubts() const { return doubts_; }
  [[nodiscard]] double rated_w() const { return rated_w_; }
  [[nodiscard]] const model::MapGrid& grid() const { return grid_; }
  // One a cathode of the roles; empty when the plan has no optic.
  [[nodiscard]] const std::vector<model::FilmDose>& doses() const { return doses_; }
  // Of the doses' cathodes, on the grid.
  [[nodiscard]] const std::vector<model::CathodeKernels>& kernels() const { return kernels_.get(); }
  [[nodiscard]] const FilmTrace& trace() const { return trace_; }
  [[nodiscard]] const Turning& turning() const { return turning_; }
  // Angle of the optic when the last film was laid, and how well it was known: radians.
  [[nodiscard]] double angle_uncertainty_rad() const { return angle_known_.uncertainty_rad(); }
  // Mean over the clear area of a whole turn over the film at the calibration's radius.
  [[nodiscard]] Estimate<Ratio> area_mean(int cathode) const;

 private:
  struct Counter {
    bool known = false;
    double counter_j = 0;
    Sum power_j;        // by power since then
    bool open = false;  // throughout since then
  };
  [[nodiscard]] double from_rad() const { return base_rad_; }
  [[nodiscard]] double possible_power(double power_w) const;
  [[nodiscard]] double possible_count(const Row& row);
  void watch_counter(const Row& row);
  [[nodiscard]] static double most_open(double open) { return std::isnan(open) ? 1 : open; }
  void choose_cathode(const Row& row);
  void use(const CathodeRoles& cathode);
  void lay(const Row& row, FilmSums& sums);
  void bound_gap(const Row& row, FilmSums& sums);
  void count(const Row& row, FilmSums& sums);
  void weigh(const Row& row, FilmSums& sums, double energy_j, double film_m);
  void rate_model(Row& row);
  void keep_doubts();
  void tell_rates();
  void place(const Row& row, const FilmSums& sums, double film_m);
  void put(const FilmPiece& piece);
  void settle_waiting();
  [[nodiscard]] double share_counted(const Row& row, double by_power_j) const;
  void count_turning(FilmSums& sums) const;
  [[nodiscard]] double asked_rad_s(const Row& row) const;
  [[nodiscard]] int cathode_index() const;
  [[nodiscard]] FilmSums& owner(const Row& row);
  // Film of the interval before the row belongs to a step that lays film.
  [[nodiscard]] bool lays_in(const Row& row) const { return sputters(row.step_before) || sputters(row.step); }
  [[nodiscard]] bool power_unknown(const Row& row) const {
    return std::isnan(row.power_w * row.open) || std::isnan(row.before().power_w * row.before().open);
  }
  [[nodiscard]] bool sputters(int step) const {
    return step >= 0 && sputters_[static_cast<std::size_t>(step)] != 0;
  }

  const plan::Plan& plan_;
  const Roles& roles_;
  const CathodeRoles* in_use_ = nullptr;
  double rated_w_ = 0, lit_w_ = 0;  // of its supply; above the second there is a discharge
  std::vector<char> sputters_;      // by step
  std::vector<FilmSums> steps_;
  FilmSums stray_;
  bool any_ = false;
  bool last_was_gap_ = false;
  FilmGap gap_;
  double gap_run_half_m_ = 0;  // half width of the gap intervals in a row up to here
  Counter counter_;
  // Readings of the energy counter that it can have given.
  double believed_count_j_ = no_value, since_count_s_ = 0;
  int odd_counts_ = 0;  // in a row that it cannot
  // At the last row that has a stamp of its own: the interval before a row begins there.
  double base_count_j_ = no_value, base_rad_ = 0;
  // By power while the counter stood, since it last went on, and the most of it: what its digits and how
  // often it is read leave open.
  double stood_j_ = 0, most_stood_j_ = 0;
  double ahead_j_ = 0;  // counted, less what was laid by power and stamps since the last gap
  Sum total_film_, quiet_film_, quiet_s_;
  std::vector<Sum> used_;               // energy, by cathode
  std::vector<model::FilmRate> rates_;  // by cathode
  // What the film per energy was last worked out for, and what it is.
  struct Rated {
    double voltage_v = no_value, pressure_pa = no_value;
    Energy used{};
    model::FilmRate::At film;
  };
  Rated rated_;
  std::vector<std::string> assumed_, doubts_;
  // By cathode, for the words: whether it laid film, and the state that film was furthest from the
  // calibration in.
  struct Doubted {
    bool laid = false, pressure_unknown = false;
    double furthest_pa = no_value;  // more than the model likes from the calibration's
    Energy used{};
    bool worn = false;
  };
  std::vector<Doubted> doubted_;
  model::MapGrid grid_;
  Turning turning_;
  std::vector<Estimate<Ratio>> area_mean_;
  std::vector<model::FilmDose> doses_;
  // Asks for the plan alone and takes long, so that it is worked out while the log is read.
  std::shared_future<std::vector<model::CathodeKernels>> kernels_;
  FilmTrace trace_;
  // Film laid while the angle's reading stood: where it lies is known once the reading moves again.
  std::vector<FilmPiece> waiting_;
  double waiting_rad_ = 0;  // what the optic should have turned meanwhile
  std::size_t waiting_speed_changes_ = 0;
  Turning::Known angle_known_;  // when the last film was laid
};

// The film of the run: parts, budget, claim.
[[nodiscard]] Film film_of(const plan::Plan& plan, const Roles& roles, const FilmMeter& meter);

}  // namespace vacuary::run
