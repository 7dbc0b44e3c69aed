#include "physics/transport.hpp"

#include <cmath>

namespace vacuary::physics {

Ratio transported_share(Pressure pressure, Length distance, PressureLength p0d0) {
  const double x = pressure.value() * distance.value() / p0d0.value();
  return Ratio::of(x > 0 ? -std::expm1(-x) / x : 1.0);  // (T1)
}

Ratio transport_sensitivity(Pressure pressure, Length distance, PressureLength p0d0) {
  const double x = pressure.value() * distance.value() / p0d0.value();
  if (x < 1e-8) return Ratio::of(-x / 2);
  return Ratio::of(x / std::expm1(x) - 1);
}

}  // namespace vacuary::physics
