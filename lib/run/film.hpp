// The film as the energy lays it.
//
//   thickness = integral of kappa(V, p, erosion) * P * open dt
// with kappa from `model`, P the cathode's power and `open` how far the shutter is open; trapezoid
// between neighbouring rows, ramps included. Where rows are missing, or rows do not say what the power or the
// shutter was, and not only briefly, the energy is bounded (`Hole`): by the supply's own counter if there is
// one, else it lies anywhere between none and rated power. kappa is that of the calibration times the mean
// over the clear area (model::clear_area_mean), so that film is everywhere here the mean over the clear area;
// where on it the film lies is in the doses and the trace.
#pragma once

#include <cmath>
#include <future>
#include <string>
#include <utility>
#include <vector>

#include "model/film_map.hpp"
#include "run/film_trace.hpp"
#include "run/hole.hpp"
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
  Sum gap_variance;                   // m2; of what is unknown by itself
  Sum gap_alike;                      // m; standard uncertainty of what is unknown alike, and adds up
  Sum sampling_variance;              // m2
  Sum pressure_reading;               // film times sensitivity times uncertainty of the reading, m
  double lowest_v = no_value, highest_v = no_value;
  // Of the model's budget: film times relative contribution, m; by the names of model::FilmRate.
  std::vector<std::pair<const char*, Sum>> inputs;
};

// A hole as it was laid.
struct FilmGap {
  Moment start, end;       // the rows on either side
  Moment behind;           // where rows are missing: the row behind them, and how long they are
  bool missing = false;    // rows are; else they are there and do not say
  std::size_t unread = 0;  // rows that are there and do not say
  bool shutter = false;    // how the shutter stood, and not the power
  double film_m = 0, low_m = 0, high_m = 0, standard_m = 0;
  double energy_j = 0;
  double bounded_s = 0;  // how long it was anything between bounds; none where it was brief
  bool by_counter = false;
  [[nodiscard]] double longest_s() const { return missing ? behind.dt_s : seconds(start.time, end.time); }
};

class FilmMeter {
 public:
  FilmMeter(const plan::Plan& plan, const Roles& roles, const model::MapGrid& grid);

  // Reads power, voltage, shutter and rotation of the cathode in use into the row.
  void read(Row& row);
  // Whether what the cathode laid since the row before is not known by the two rows, though none is missing;
  // after `read`.
  [[nodiscard]] bool unknown(const Row& row) const {
    return hole_.open() || !closed_.empty() ||
           (in_use_ != nullptr && any_ && lays_in(row) && power_unknown(row));
  }
  // Lays the film of the interval before `row`; row.step must be known. Sets film_m and the rates.
  void add(Row& row);

  [[nodiscard]] const std::vector<FilmSums>& steps() const { return steps_; }
  [[nodiscard]] const FilmSums& stray() const { return stray_; }
  // The holes that were laid with the last row, and whether there is one still open.
  [[nodiscard]] const std::vector<FilmGap>& holes_laid() const { return closed_; }
  [[nodiscard]] bool hole_open() const { return hole_.open(); }
  // Of a row that was added and is `lost`: whether film may have been laid before it that nobody counted.
  [[nodiscard]] bool film_lost(const Row& row, bool rows_dropped) const;
  // What the cathode took in no step of the recipe while nobody saw the shutter, open or shut.
  [[nodiscard]] double unseen_j() const { return unseen_j_.value(); }
  // Film in all, m.
  [[nodiscard]] double total_m() const { return total_film_.value(); }
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
  void watch_counter(const Row& row, double supplied_j);
  void lay_between(const Row& row);
  void watch_unseen(const Row& row, double by_power_j);
  void choose_cathode(const Row& row);
  void use(const CathodeRoles& cathode);
  void lay(const Row& row);
  [[nodiscard]] static Hole::At in_hole(const Moment& moment);
  void into_hole(const Row& row, bool outside);
  void close_hole();
  void follow_hole(const Row& row);
  [[nodiscard]] Hole::Device device_in_hole() const;
  [[nodiscard]] FilmPiece piece_of(const FilmSums& sums, double film_m, double pressure_pa) const;
  void count(const Moment& row, FilmSums& sums, double supplied_j, bool beside);
  void weigh(const Moment& lit, bool fresh, FilmSums& sums, double energy_j, double film_m);
  void rate_model(Row& row);
  void keep_doubts();
  void tell_rates();
  void place(const FilmPiece& piece, const Way& way);
  [[nodiscard]] Way way() const;
  void put(const FilmPiece& piece);
  void settle_waiting(const Way& last);
  [[nodiscard]] double share_counted(const Row& row, double by_power_j) const;
  void count_turning(FilmSums& sums, double turned_rad) const;
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
  Hole hole_;
  Moment hole_start_, hole_end_, hole_behind_;
  bool hole_misses_ = false, hole_behind_lost_ = false;  // rows; and nobody knows for how long
  Instant film_end_{};                                   // of its film, once it goes on behind that
  bool behind_film_ = false;
  // The last row before the film that was read, if those behind it were not.
  Hole::At anchor_;
  bool anchored_ = false;
  FilmSums* hole_sums_ = nullptr;
  double hole_count_j_ = no_value;
  std::vector<FilmGap> closed_;
  Rhythm power_rhythm_, shutter_rhythm_;
  // Energy since the shutter was read, in no step of the recipe; where it was seen open neither before nor
  // behind, it was none of the film's.
  double seen_open_ = no_value, since_seen_j_ = 0;
  Sum unseen_j_;
  Counter counter_;
  // Readings of the energy counter that it can have given.
  double believed_count_j_ = no_value, since_count_s_ = 0;
  int odd_counts_ = 0;  // in a row that it cannot
  // At the last row that has a stamp of its own: the interval before a row begins there. Where its counter
  // was not read it is the last count before, and what was supplied since by power.
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
// `lost`: why the log cannot be believed to show all of it; empty: it can.
[[nodiscard]] Film film_of(const plan::Plan& plan, const Roles& roles, const FilmMeter& meter,
                           const std::string& lost);

}  // namespace vacuary::run
