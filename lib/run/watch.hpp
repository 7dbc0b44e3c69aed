// What looks out for deviations: each watch sees every row once and keeps a bounded state.
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
  // By start, consequences folded into their causes.
  [[nodiscard]] std::vector<Deviation> told() const;
  [[nodiscard]] std::uint64_t untold() const { return untold_; }

 private:
  std::vector<Finding> all_;
  std::uint64_t untold_ = 0;
};

class Watch {
 public:
  Watch() = default;
  Watch(const Watch&) = delete;
  Watch& operator=(const Watch&) = delete;
  virtual ~Watch() = default;
  virtual void row(const Row& row, Findings& findings) = 0;
  // After the last row.
  virtual void finish(const Row& /*last*/, Findings& /*findings*/) {}
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
