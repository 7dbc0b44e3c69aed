// What the account says of a film besides its thickness. Part of the front door run.hpp.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "model/model.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::run {

// Water against metal over one turn of the optic (or over two minutes where it does not turn).
struct WaterSpan {
  std::string step;
  Instant from, to;
  Ratio per_turn;  // molecules per metal atom
};

struct ResidualFound {
  Pressure before{};              // residual gas just before the film's gas was let in, as water
  std::optional<Pressure> after;  // and after it was shut off
  model::ResidualGas film;        // over the whole film
  std::vector<WaterSpan> spans;   // at most 64
  std::optional<Ratio> allowed;   // the recipe's bound
};

// How long places of the optic waited for the next metal. Every point waits a turn between passes anyway:
// an interruption counts only against that.
struct Waiting {
  Duration usual{};    // between passes
  Duration longest{};  // of any place, between its first and its last metal
  Angle from{}, to{};  // optic.angle of the places that waited longest
  bool angle_logged = false;
  double usual_layers = 0, longest_layers = 0;  // of water meanwhile, if all of it stuck
  std::string said;
};

struct Conditioning {  // of the target, by its voltage at full power
  std::string step;
  Voltage first{}, last{}, calibrated{};
  VoltageRate drift{};                 // in the last minute
  std::optional<VoltageRate> settled;  // the recipe's bound
  Duration burnt{};
  std::string said;
};

struct CleanFound {
  std::string step;
  Duration burnt{};
  ChargeDensity dose{};  // at most
  double layers = 0;     // charges per molecule of one layer, at most
  std::optional<Pressure> pressure;
  std::optional<model::Strike> strike;  // at that pressure and voltage
  std::optional<Duration> to_film;      // from its end to the first film
  std::optional<Duration> allowed;      // the recipe's bound on that
};

struct Heated {
  std::string step;
  model::Heating heating;
};

struct TargetLife {
  std::string cathode;
  Energy before{}, used{}, rated{};  // used: in this run
  bool by_counter = false;           // else by the integral of the power
};

// The reflectance the film found can have, and what was measured of it.
enum class Met { met, not_met, not_decided };
[[nodiscard]] const char* name(Met met);
struct ReflectanceFound {
  model::FilmReflectance predicted;  // over the constants and the film's whole interval
  Ratio wanted;
  Met can = Met::not_decided;  // met: any clean film of this thickness has it; not_met: none has
};

// A reflectance as measured, against what is wanted at that wavelength and what a clean film can have.
struct ReflectanceMeasured {
  Length wavelength{};
  Estimate<Ratio> value{};
  std::string place;  // may be empty
  std::string date;
  std::optional<Ratio> wanted;  // none: the optic's file wants nothing at this wavelength
  Met met = Met::not_decided;
  std::optional<model::FilmReflectance> predicted;  // none: no constants there, or no thickness
  Met as_clean = Met::not_decided;                  // not_met: less than any clean film of that thickness has
};

struct FilmQuality {
  std::vector<Conditioning> conditioning;
  std::vector<CleanFound> cleans;
  std::optional<ResidualFound> residual;
  std::optional<Waiting> waiting;
  std::vector<Heated> heated;
  std::vector<TargetLife> targets;
  std::vector<ReflectanceFound> reflectance;
  std::vector<ReflectanceMeasured> measured;  // empty as long as nobody has measured
};

// A measurement against a bound it should not be below: met or not_met only when its whole interval
// (k = 2) lies on one side.
[[nodiscard]] Met at_least(const Estimate<Ratio>& measured, Ratio bound);

}  // namespace vacuary::run
