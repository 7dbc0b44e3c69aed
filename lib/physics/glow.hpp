// A glow discharge for cleaning: can it strike, and how much it can do at most.
//
//   (D1) V = B x / (ln(A x) - ln(ln(1 + 1 / g))),   x = p d
//   (D2) least voltage V_min = (e B / A) ln(1 + 1/g) at x_min = (e / A) ln(1 + 1/g)
//   (D3) charge per area = I t / A_surface
//
// Range: (D1) parallel plates, cold, no magnetic field: never for a magnetron, whose trap strikes far
// below x_min. d is the gap between electrode and the nearest earthed surface; in a large vessel the
// discharge finds its own longer path, so a window that is too low in x opens by itself.
// (D3) is an upper bound on the dose: current also flows to the walls, electrons are part of it, and
// glass floats. No etched depth may be claimed from it. The electrode itself is sputtered too.
// Source: F. Paschen, Ann. Phys. 273, 69 (1889); coefficients M. A. Lieberman and A. J. Lichtenberg,
// Principles of Plasma Discharges, 2nd ed., table 14.1.
#pragma once

#include <optional>
#include <string_view>

#include "quantity/types.hpp"

namespace vacuary::physics {

struct PaschenGas {
  std::string_view formula;
  double a_per_pa_m;    // A
  double b_v_per_pa_m;  // B
};
// nullptr for a gas that is not in the table (Ar, N2).
[[nodiscard]] const PaschenGas* find_paschen(std::string_view formula);

// (D1); none where the denominator is not positive: no voltage strikes there.
[[nodiscard]] std::optional<Voltage> breakdown_voltage(const PaschenGas& gas, PressureLength x,
                                                       Ratio electrons_per_ion);

struct PaschenMinimum {
  PressureLength x{};
  Voltage voltage{};
};
[[nodiscard]] PaschenMinimum paschen_minimum(const PaschenGas& gas, Ratio electrons_per_ion);  // (D2)

// The pressures between which `available` strikes across `gap`; none when it never does.
struct StrikeWindow {
  Pressure low{}, high{};
};
[[nodiscard]] std::optional<StrikeWindow> strike_window(const PaschenGas& gas, Length gap, Voltage available,
                                                        Ratio electrons_per_ion);

[[nodiscard]] inline ChargeDensity charge_per_area(Current current, Duration time, Area surface) {
  return ChargeDensity::from_value(current.value() * time.value() / surface.value());  // (D3)
}

}  // namespace vacuary::physics
