// A closed vessel's pressure rises: how much of that can be a leak.
//
//   (R1) p(t) = p0 + a t + b (1 - exp(-t / tau))
//   (R2) leak <= a V        (an amount when divided by R T)
//
// a is what does not saturate. Over minutes water from the walls rises in a straight line too, so a is an
// **upper bound** on the leak; only saturation (b, tau seen), a second test hours later, or the kind of gas
// tells them apart.
// Range: valves tight, gauge not pumping, no getter, p far below the saturation of water.
// Source: ISO 27895:2009 and EN 1779:1999 (pressure change technique) for (R2); (R1) common practice.
#pragma once

#include "quantity/types.hpp"

namespace vacuary::physics {

struct RiseCurve {
  Pressure p0{};
  PressureRate a{};
  Pressure b{};
  Duration tau{};
};
[[nodiscard]] Pressure risen(const RiseCurve& curve, Duration t);  // (R1)

// (R2) as pressure times volume per time, and as an amount.
[[nodiscard]] inline Throughput leak_throughput(PressureRate rate, Volume volume) {
  return Throughput::from_pa_m3_per_s(rate.value() * volume.value());
}
[[nodiscard]] inline MolarFlow leak_bound(PressureRate rate, Volume volume, Temperature gas) {
  return molar_flow(leak_throughput(rate, volume), gas);
}

}  // namespace vacuary::physics
