// Pumpdown of a vessel with outgassing walls: air, water and argon separately.
//
//   (P1)  V dp_i/dt = Q_i(t) - S_i(p) (p_i - u_i)          i: air, water, argon; p = sum p_i
//   (P2)  Q_water(t) = R T sum_k q_k A_k x(t)^-n_k,  x(t) = sqrt((t^2 + t0^2) / (t1^2 + t0^2)), t1 = 1 h
//   (P3)  t = (V / S) ln((p1 - u) / (p2 - u))               constant S, no load: the textbook check
//   (P4)  p = u + sum_i Q_i(t) / S_i                        the quasi-steady pressure
//
// Q_air is the leak. Outgassing is counted as water, which it is below about 1e-3 mbar on unbaked
// walls. u_i is what the pump reaches alone; it is counted as air.
// Clock: t is the time since the walls were last exposed to air and pumping began; a pumpdown may
// start with a clock that has already run. The power law diverges at t = 0; (P2) holds it below
// t0 (one minute) at its value there, and is exact at one hour and within 0.1 % of the power law after
// half an hour.
// Range: walls at rest (no bake, no warming, no discharge), speeds known; at the start of roughing
// real lines choke and real vessels are slower, two to three times is not unheard of.
// Method: exact exponential of (P1) over steps in which S is constant and Q linear, so that the
// stiffness of a small V/S under a load that changes over hours costs nothing.
// Source: S. Dushman, Scientific Foundations of Vacuum Technique, 2nd ed. (1962); R. J. Elsey,
// Vacuum 25, 299 and 347 (1975), for the power law of outgassing.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "physics/conductance.hpp"
#include "quantity/types.hpp"

namespace vacuary::physics {

struct OutgassingWall {
  Area area{};
  MolarFlux at_1h{};
  Ratio exponent;  // n, 0 and up
};

inline constexpr double outgassing_floor_s = 60;  // t0

// (P2) as an amount per time.
[[nodiscard]] MolarFlow outgassing(const std::vector<OutgassingWall>& walls, Duration pumped);

struct PartialPressures {
  Pressure air{}, water{}, argon{};
  [[nodiscard]] Pressure total() const { return air + water + argon; }
};

// Speeds that hold while the total pressure is at or below `below`, down to the next row.
struct SpeedRow {
  Pressure below{};
  PumpingSpeed air{}, water{}, argon{};
};

// One arrangement of pumps, used until the total pressure is at or below `until`.
struct PumpingStage {
  std::vector<SpeedRow> rows;  // descending in `below`; above the first row the first holds
  Pressure ultimate{};         // u
  Pressure until{};            // crossover to the next stage; the last stage's is not looked at
  std::optional<Tube> line;    // conductance in front of the pump, for all its gases as air's
};

struct PumpdownCase {
  Volume volume{};
  Temperature gas = Temperature::from_value(293.15);
  std::vector<OutgassingWall> walls;
  MolarFlow leak{};        // air
  MolarFlow argon_flow{};  // let in meanwhile
  std::vector<PumpingStage> stages;
  PartialPressures start;
  Duration pumped{};  // reading of the wall clock at the start
  Pressure target{};  // 0: go on to `longest`
  Duration longest{};
  // Liquid water left in the vessel. While there is any, water stands at `plateau` (about 23.4 mbar
  // at 20 degC, 6.1 mbar once it has frozen) and is pumped at that pressure.
  Mass liquid_water{};
  Pressure plateau = Pressure::from_value(2339);
};

struct PumpdownPoint {
  Duration time{};  // from the start of this pumpdown
  PartialPressures p;
};

struct Pumpdown {
  std::optional<Duration> time;      // to the target; none: never within `longest`
  std::vector<Duration> crossovers;  // when each later stage took over
  std::vector<PumpdownPoint> curve;  // from the start to the target, or to `longest`
  Pressure lowest{};                 // lowest total pressure on the curve
  [[nodiscard]] const PartialPressures& end() const { return curve.back().p; }
};

// Preconditions: volume and longest positive, at least one stage with a row, speeds positive.
[[nodiscard]] Pumpdown pump_down(const PumpdownCase& c);

// (P4) with the last stage's lowest row at wall clock `pumped`: what the vessel comes down to.
[[nodiscard]] PartialPressures quasi_steady(const PumpdownCase& c, Duration pumped);

// (P3). Infinite when `to` is not above the ultimate pressure.
[[nodiscard]] Duration textbook_pumpdown(Volume volume, PumpingSpeed speed, Pressure from, Pressure to,
                                         Pressure ultimate = Pressure{});

}  // namespace vacuary::physics
