#include "physics/rate_of_rise.hpp"

#include <cmath>

namespace vacuary::physics {

Pressure risen(const RiseCurve& curve, Duration t) {
  Pressure p = curve.p0 + Pressure::from_value(curve.a.value() * t.value());
  if (curve.tau.value() > 0) p += -std::expm1(-t.value() / curve.tau.value()) * curve.b;
  return p;
}

}  // namespace vacuary::physics
