// Pressure of a gas let in at a steady flow and pumped at a steady speed.
//
//   (F1)  p = u + Q / S,   Q = R T x flow
//
// Range: well after V / S; the gas is at the stated temperature where it is pumped. Gases add.
#pragma once

#include "quantity/types.hpp"

namespace vacuary::physics {

[[nodiscard]] inline Pressure flow_pressure(MolarFlow flow, PumpingSpeed speed, Temperature gas,
                                            Pressure ultimate = Pressure{}) {
  return ultimate + Pressure::from_value(throughput(flow, gas).pa_m3_per_s() / speed.value());  // (F1)
}

[[nodiscard]] inline MolarFlow flow_for_pressure(Pressure pressure, PumpingSpeed speed, Temperature gas) {
  return molar_flow(Throughput::of(pressure, speed), gas);
}

}  // namespace vacuary::physics
