// What the account says of pumps, walls and leaks. Part of the front door run.hpp.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::run {

struct PowerLaw {  // p ~ t^exponent over [from, to] after the clock's zero
  std::string channel;
  Instant zero;
  std::string zero_is;  // "lowest pressure in the first 30 min", "pumping start"
  Duration from{}, to{};
  Estimate<Ratio> exponent;
  std::uint64_t samples = 0;
};

struct RateOfRise {
  std::string step;
  Estimate<PressureRate> rate;        // of the straight line through the test
  Estimate<PressureRate> steady;      // what does not saturate; `rate` where no bend is seen
  std::optional<Duration> saturates;  // time constant of what bends over
  Estimate<MolarFlow> leak_at_most;   // from `steady`, an upper bound: water rises in a straight line too
  MolarFlow leak_bound{};             // one-sided 95 % of that
  Duration clock{};                   // middle of the test, since pumping started; 0: not known
  std::string shape;                  // "straight", "bends over", "accelerates", "no rise"
  std::string reading;                // what the data allow to say
};

// Two tests at different times together (physics: combine_rises).
struct RisesTogether {
  std::string first, second;  // steps
  std::string origin;         // of the second rise: "leak", "walls", "cannot tell"
  Estimate<MolarFlow> leak;
  MolarFlow leak_at_most{};
};

struct Vent {        // the vessel was let up, on purpose as far as the log shows
  Instant start;     // first row of the rise to atmosphere
  std::string seen;  // "pressure rose from 2e-6 mbar to beyond the gauges' range"
};

// Pumping speed as the log shows it, at the vessel, with the throttle taken off.
struct EffectiveSpeed {
  std::string step;
  std::string how;           // "gas flow over pressure", "fall of the pressure from 30 to 0.03 mbar"
  bool high_vacuum = false;  // pumps in use
  Estimate<PumpingSpeed> found;
  Estimate<PumpingSpeed> expected;        // chamber file, or its history
  std::optional<Estimate<Ratio>> growth;  // of the pressure at the same flow, end of the step over its start
};

// Gas once per turn of the optic.
struct TurnPulse {
  std::string step;
  Count turns;
  Ratio height;                // of the pulse, over the pressure between pulses
  Estimate<MolarFlow> inflow;  // as air, at the worst angle
  Angle at{};                  // optic.angle of the highest pressure
  std::optional<Ratio>
      standing;  // pressure at the same flow with the optic at rest, over that between pulses
};

// The walls, from how the pressure falls: p(t) = k q(t)^e + c with q the outgassing of the chamber file.
struct WallLoad {
  Estimate<MolarFlow> at_1h;       // as water, by the chamber's pumping speed
  Estimate<Ratio> over_plan;       // that over what the chamber file predicts
  Ratio exponent;                  // of the fall, without c, over the stretch seen
  Pressure floor{};                // c: leak over pumping speed, and what the pump reaches alone
  Pressure floor_at_least{};       // what no outgassing explains
  std::optional<Duration> opened;  // when c began, after pumping start
};

// A figure against what is normal.
struct Comparison {
  std::string what, found, normal;
  Estimate<Ratio> ratio;      // found over normal
  bool from_history = false;  // else from the plan's prediction
  bool unusual = false;
};

struct HealthVerdict {
  std::string what;  // real-leak, wet-walls, shaft-seal, weak-pump, warming-pump, normal, cannot-tell
  std::string said;
  std::vector<std::string> evidence;
  std::string advice;
};

struct VacuumHealth {
  std::optional<Estimate<Pressure>> base_pressure;  // before the film
  std::optional<Duration> time_to_base;
  std::vector<PowerLaw> pumpdowns;
  std::vector<RateOfRise> rises;
  std::optional<RisesTogether> rises_together;
  std::vector<EffectiveSpeed> speeds;
  std::vector<TurnPulse> pulses;
  std::optional<WallLoad> walls;
  std::vector<Comparison> against_normal;
  std::vector<HealthVerdict> verdicts;  // at least one when there was a pumpdown
  std::optional<Vent> vent;
};

}  // namespace vacuary::run
