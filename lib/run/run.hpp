// Front door of `run`: plan and log blocks to the account of a run.
//
// One pass over the log, constant memory. What it says: steps with planned and actual times, film
// with its uncertainty, every deviation with when, how far, how long and what it did to the film,
// vacuum health, and a verdict with its reasons.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "log/log.hpp"
#include "model/film_map.hpp"
#include "model/model.hpp"
#include "physics/estimates.hpp"
#include "plan/measured.hpp"
#include "plan/plan.hpp"
#include "run/film_quality.hpp"
#include "run/log_line.hpp"
#include "run/vacuum_health.hpp"

namespace vacuary::run {

enum class Verdict { within_limits, review, out_of_limits };
[[nodiscard]] const char* name(Verdict verdict);

enum class Origin { process, instrument, log };  // what a deviation is about
[[nodiscard]] const char* name(Origin origin);

// Statistics of one channel over one step, time-weighted over good samples (trapezoid between
// neighbours that are not separated by a gap). SI inside; `unit` is how to print.
struct Figure {
  plan::Channel channel;
  Unit unit;
  double minimum_si = 0, maximum_si = 0, mean_si = 0, last_si = 0;
  double integral_si_s = 0;
  std::uint64_t good = 0, bad = 0;
};

struct StepAccount {
  std::string step;  // recipe step name
  plan::StepKind kind = plan::StepKind::hold;
  bool found = false;  // false: the log never shows it
  Instant start, end;
  std::optional<Estimate<Duration>> planned;
  Duration actual{};
  std::string ended_by;  // "pressure reached", "time", "log ends", ...
  Duration gaps{};       // time without rows inside the step
  std::vector<Figure> figures;
};

struct Deviation {
  std::string rule;  // kebab-case: power-interruption, limit-exceeded, log-gap ...
  Severity severity = Severity::warning;
  Origin origin = Origin::process;
  std::string step;
  std::string channel;  // may be empty
  Instant start, end;
  LogLine line;                        // where it starts
  std::optional<double> worst, limit;  // in `unit`
  std::optional<double> integral;      // beyond the limit, in unit * s
  Unit unit;
  std::string effect;                            // what it did to the film, in words with numbers
  std::optional<Estimate<Length>> mean_change;   // of mean thickness
  std::optional<Estimate<Length>> local_change;  // at the places worst hit
  std::optional<model::FilmSector> sector;       // where on the optic that is, from the fiducial mark
  std::string advice;
};

struct FilmPart {  // one sputter step
  std::string step;
  Estimate<Energy> energy;
  Estimate<Length> thickness;
  std::optional<Energy> energy_counter;      // by the supply's own counter
  std::optional<Energy> volt_ampere_energy;  // by voltage times current
  std::optional<Voltage> mean_voltage;       // weighted with the energy
  std::optional<Pressure> mean_pressure;     // weighted with the energy
  std::optional<Count> turns;                // of the optic while film was laid
  Ratio outside_band;   // share of the energy with the voltage outside the calibrated band
  bool planned = true;  // false: film laid in a step that should lay none
};

// What the target lost against what the optic has. The loss rests on a sputter yield: good to 35 %.
struct MassBalance {
  Estimate<Mass> on_optic, from_target;
  Ratio share;            // on_optic over from_target
  Ratio expected;         // geometry and shield times what the gas lets through
  MassDensity density{};  // of the film
};

// Where the film lies on the optic, and how well its angles are known.
struct OnOptic {
  model::FilmMap map;
  Estimate<Angle> mark;     // uncertainty of every angle; value: always 0
  std::string angles_from;  // "optic.angle, set right by the index pulse"
  std::string fiducial;     // where angle 0 is
  std::string sense;        // in which angles grow, seen from the coated side
  std::optional<Ratio> uniformity_wanted;
  std::optional<MassBalance> mass;
};

// Film that a fixed crystal took on while the optic was coated (Z-match).
struct CrystalFilm {
  std::string crystal;
  std::string why_not;            // not empty: it says nothing, and why
  Estimate<Length> on_crystal{};  // without the tooling's uncertainty
  Estimate<Length> mean{};        // over the clear area, by its tooling factor
};

// One way of knowing the mean over the clear area.
struct ThicknessEstimate {
  physics::Equivalence held;  // its name, weight, and how far from the mean of all it is
  Estimate<Length> mean{};
  std::string how;  // "88.9 nm at witness 3, where the film is 0.995 times its mean"
};
// All of them together (physics/estimates.hpp).
struct ThicknessEstimates {
  std::vector<ThicknessEstimate> each;  // at least two
  Estimate<Length> mean{};              // weighted; widened by the Birge ratio when they disagree
  Length uncertainty_if_consistent{};
  double chi_squared = 0, birge_ratio = 0, probability = 1;
  bool consistent = true;
  Estimate<Length> consistent_mean{};  // of the largest part that agrees
  // One of them comes from the glass, a crystal or a balance: the verdict goes by the mean of all. Without,
  // there is only the plausibility of a sputter yield beside the energy.
  bool measured = false;
  std::string said;  // a sentence: they agree, or which one to look into
};

struct Film {
  bool claimed = false;
  std::string why_not;      // when not claimed
  Estimate<Length> mean{};  // area-weighted over the clear area
  double coverage_factor = 2;
  Length wanted{}, tolerance{};
  std::vector<model::BudgetLine> budget;
  std::vector<FilmPart> parts;
  std::vector<std::string> assumed;             // shown to the reader
  std::optional<OnOptic> on_optic;              // when claimed and the optic's geometry is known
  std::vector<CrystalFilm> crystals;            // what each crystal of the chamber took on
  std::optional<ThicknessEstimates> estimates;  // when there is more than one
};

// What a tape test said.
struct TapeFound {
  bool passed = false;
  std::string place;  // may be empty
};
// A sheet of measurements that the account was held against.
struct MeasuredBy {
  std::string date, by, instrument;
};

struct Account {
  std::string recipe, revision, author, chamber, optic;
  std::vector<std::string> log_files;
  log::Tally log;
  std::vector<std::string> unmapped;  // columns nobody named
  std::vector<std::string> missing;   // channels the account asked for and did not find
  std::vector<std::string> notes;     // how readings became values: splicing, gas correction, zeros
  std::string steps_from;             // "step column" or "inferred from what the plant did"
  std::vector<StepAccount> steps;
  Film film;
  std::vector<Deviation> deviations;  // by start
  VacuumHealth vacuum;
  FilmQuality quality;
  Verdict verdict = Verdict::review;
  std::vector<std::string> reasons;
  std::vector<std::string> safety;  // from the chamber file
  std::vector<MeasuredBy> measured_by;
  std::vector<TapeFound> tape;
};

// The channels the account asks a log for, by name; what the log does not have is in
// Account::missing with what cannot be said without it.
[[nodiscard]] std::vector<std::string> wanted_channels(const plan::Plan& plan, const plan::ChannelMap& map);

// The account as it grows, block by block. What comes out does not depend on where one block ends
// and the next begins. `plan` and `map` must outlive it.
class Accountant {
 public:
  // `grid`: of the film map.
  Accountant(const plan::Plan& plan, const plan::ChannelMap& map, const log::Header& header,
             const model::MapGrid& grid = {256, 1440, 2});
  Accountant(Accountant&&) noexcept;
  Accountant& operator=(Accountant&&) noexcept;
  ~Accountant();

  // Shows every row alone, as if each were odd. The account must be the same, for more time: for tests.
  void show_rows_alone();

  void add(const log::Block& block);
  // Call once, after the last block.
  [[nodiscard]] Account finish(const log::Tally& tally);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Holds the account against what was measured on its film: each thickness and weighed target becomes an
// estimate of the mean beside that by energy, each reflectance is met, not met or not decided, a failed tape
// test is out of limits; estimates and verdict are made anew. Measurements of one film only.
void hold_against(const plan::Plan& plan, const std::vector<plan::Measured>& measured, Account& account);

// Reads the log to its end. Fails only when the log cannot be opened or has nothing in it that
// the account could use; whatever is odd inside becomes deviations.
[[nodiscard]] Result<Account> account(const plan::Plan& plan, const plan::ChannelMap& map,
                                      log::Reader& reader);

}  // namespace vacuary::run
