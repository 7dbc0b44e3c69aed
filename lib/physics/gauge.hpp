// True pressure from a gauge's reading.
//
//   (G1)  p = (reading - zero) / s,   s = sum x_i s_i over the gases there (shares of pressure x_i)
//
// s_i is the gauge's sensitivity for gas i relative to nitrogen: above 1 for argon on an ion gauge,
// below 1 on a thermal gauge. A capacitance gauge reads true pressure, s = 1, but its zero drifts.
// Range: thermal gauges are linear in this way only below about 1 mbar. A zero may be subtracted only
// if it was taken where a better gauge says that this one should read nothing.
// Source: for ion gauges R. L. Summers, NASA TN D-5285 (1969), who finds s_i to 10 %.
#pragma once

#include <vector>

#include "quantity/types.hpp"

namespace vacuary::physics {

[[nodiscard]] inline Pressure true_pressure(Pressure reading, Ratio relative_sensitivity,
                                            Pressure zero = Pressure{}) {
  return (reading - zero) / relative_sensitivity.value();  // (G1)
}

[[nodiscard]] inline Pressure gauge_reading(Pressure pressure, Ratio relative_sensitivity,
                                            Pressure zero = Pressure{}) {
  return pressure * relative_sensitivity.value() + zero;
}

struct GasShare {
  Pressure partial{};
  Ratio relative_sensitivity;
};
// s of a mixture; 1 for an empty or zero one.
[[nodiscard]] inline Ratio mixture_sensitivity(const std::vector<GasShare>& gases) {
  double read = 0, total = 0;
  for (const GasShare& gas : gases) {
    read += gas.partial.value() * gas.relative_sensitivity.value();
    total += gas.partial.value();
  }
  return Ratio::of(total > 0 ? read / total : 1);
}

}  // namespace vacuary::physics
