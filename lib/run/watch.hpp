// What looks out for deviations: each watch sees every row once and keeps a bounded state.
//
// Rows come in stretches. Most watches can tell from a look at one or two columns that in a quiet stretch
// none of its rows concerns them; the others, and every stretch where one may, they take row by row.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "run/film.hpp"
#include "run/pressure.hpp"
#include "run/roles.hpp"
#include "run/row.hpp"
#include "run/run.hpp"

namespace vacuary::run {

// All a watch may look at.
struct Scene {
  const plan::Plan& plan;
  const log::Header& header;
  const Roles& roles;
  const VesselPressure& pressure;
  FilmMeter& film;

  [[nodiscard]] const plan::Step* step(int index) const {
    return index < 0 ? nullptr : &plan.recipe.steps[static_cast<std::size_t>(index)];
  }
  [[nodiscard]] std::string step_name(int index) const {
    return index < 0 ? std::string{} : step(index)->name.value;
  }
};

// A deviation and the excursions that it explains: those of the channels it covers between the two
// times are told as part of it and not a second time.
struct Finding {
  Deviation deviation;
  std::vector<std::string> covers;  // channel names; "*": all
  Instant covers_from, covers_to;
  bool limit = false;  // a mere excursion, which others may explain
  std::string folded;  // how it reads inside the one that explains it
};

class Findings {
 public:
  // Keeps at most 40 of one rule in one step; further ones are counted.
  void add(Finding finding);
  void add(Deviation deviation) { add(Finding{std::move(deviation), {}, {}, {}, false, {}}); }
  // What is added from here on is of this row; watches take a stretch one after the other, but findings
  // stand in the order of rows once all have had it and `settle` was called.
  void at(const Row& row) { row_ = &row; }
  void settle();
  // By start, consequences folded into their causes.
  [[nodiscard]] std::vector<Deviation> told() const;
  [[nodiscard]] std::uint64_t untold() const { return untold_; }

 private:
  void keep(Finding finding);

  std::vector<Finding> all_;
  std::vector<std::pair<const Row*, Finding>> fresh_;  // of the present stretch
  const Row* row_ = nullptr;
  std::uint64_t untold_ = 0;
};

class Watch {
 public:
  Watch() = default;
  Watch(const Watch&) = delete;
  Watch& operator=(const Watch&) = delete;
  virtual ~Watch() = default;
  void take(const Stretch& rows, Findings& findings) {
    for (const Row* one = rows.begin(); one != rows.end(); ++one) {
      if (!rows.odd()) one = pass(one, rows.end());
      if (one == rows.end()) return;
      findings.at(*one);
      row(*one, findings);
    }
  }
  // After the last row.
  virtual void finish(const Moment& /*last*/, Findings& /*findings*/) {}

 protected:
  virtual void row(const Row& row, Findings& findings) = 0;
  // Passes over rows, none of them odd, that do not concern the watch, to the first that may. Its state is
  // then as if it had taken them one by one.
  virtual const Row* pass(const Row* first, const Row* /*end*/) { return first; }
};

using Watches = std::vector<std::unique_ptr<Watch>>;

void watch_limits(const Scene& scene, Watches& watches);    // recipe's limits
void watch_power(const Scene& scene, Watches& watches);     // trips
void watch_gas(const Scene& scene, Watches& watches);       // sags, missing gas
void watch_pumping(const Scene& scene, Watches& watches);   // pressure that the gas does not explain
void watch_shaft(const Scene& scene, Watches& watches);     // pressure that pulses with the turn
void watch_rotation(const Scene& scene, Watches& watches);  // stalls, slip
void watch_shutter(const Scene& scene, Watches& watches);   // late, part open, open at the wrong time
void watch_target(const Scene& scene, Watches& watches);    // voltage: conditioned or not
void watch_arcs(const Scene& scene, Watches& watches);
void watch_frozen(const Scene& scene, Watches& watches);  // devices that stopped reading
void watch_gauges(const Scene& scene, Watches& watches);  // gauges that disagree or jump
void watch_gaps(const Scene& scene, Watches& watches);    // of the log
void watch_cells(const Scene& scene,
                 Watches& watches);  // readings of the film that are missing or impossible

// Where the watches' sentences come from: "6.3 nm (7.0 %)", "12 s".
[[nodiscard]] std::string nm(double metres);
[[nodiscard]] std::string duration_words(double seconds);
// ", 0.9 % of the 90 nm wanted"
[[nodiscard]] std::string of_wanted(const Scene& scene, double metres);
// An amount of gas per time as a number in the unit the plan uses, and as text.
[[nodiscard]] double flow_in(const Scene& scene, double mol_s, const Unit& unit);
[[nodiscard]] std::string flow_words(const Scene& scene, double mol_s, const Unit& unit);
[[nodiscard]] Estimate<Length> length_estimate(double metres, double standard_m);

}  // namespace vacuary::run
