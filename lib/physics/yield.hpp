// Atoms sputtered per argon-like ion at normal incidence: a plausibility check, not a calibration.
//
//   (Y1) Y = 0.042 Q a* Sn(E) / Us / (1 + G k e^0.3) (1 - sqrt(Eth / E))^s
//   (Y2) e = 0.03255 / (Z1 Z2 sqrt(Z1^(2/3) + Z2^(2/3))) M2 / (M1 + M2) E[eV]
//   (Y3) sn(e) = 3.441 sqrt(e) ln(e + 2.718) / (1 + 6.355 sqrt(e) + e (6.882 sqrt(e) - 1.708))
//   (Y4) Sn = 84.78 Z1 Z2 / sqrt(Z1^(2/3) + Z2^(2/3)) M1 / (M1 + M2) sn   [eV A^2]
//   (Y5) k = 0.079 (M1 + M2)^1.5 / (M1^1.5 M2^0.5) Z1^(2/3) Z2^(1/2) / (Z1^(2/3) + Z2^(2/3))^(3/4)
//   (Y6) G = W / (1 + (M1 / 7)^3)
//   (Y7) a* = 0.249 (M2/M1)^0.56 + 0.0035 (M2/M1)^1.5 for M1 <= M2,
//            else 0.0875 (M2/M1)^-0.15 + 0.165 (M2/M1)
//   (Y8) Eth / Us = 6.7 / g for M1 >= M2, else (1 + 5.7 M1 / M2) / g, g = 4 M1 M2 / (M1 + M2)^2
//
// 2.718 in (Y3) is Euler's number; copies with 2.1718 are in circulation and give 22 % less.
// Range: elements of the table, threshold to some keV, clean metal. Good to about 25 % at best
// (aluminium under argon: 13 to 22 % from Laegreid and Wehner). A wet or oxidised target sputters
// several times less than any of this says.
// Source: Y. Yamamura and H. Tawara, At. Data Nucl. Data Tables 62, 149 (1996).
#pragma once

#include <string_view>

#include "quantity/types.hpp"

namespace vacuary::physics {

struct TargetElement {
  std::string_view symbol;
  int atomic_number;
  double molar_mass_g_per_mol;
  double surface_binding_ev;  // Us
  double q, w, s;
  double density_kg_per_m3;  // CRC Handbook, 80th ed., 20 degC
};

// nullptr for an element that is not in the table (Al, Si, Cr, Ni, Cu, Ag).
[[nodiscard]] const TargetElement* find_target(std::string_view symbol);

struct YieldTerms {  // what the formula passes through, for checks
  double reduced_energy, sn, sn_ev_a2, k, a, g, threshold_ev, yield;
};
// Terms for a projectile (argon: 18, 39.948) of energy `ion_ev`.
[[nodiscard]] YieldTerms sputter_yield_terms(int projectile_number, double projectile_g_per_mol,
                                             const TargetElement& target, double ion_ev);

// The same for many energies of one projectile and target.
class SputterYield {
 public:
  SputterYield(int projectile_number, double projectile_g_per_mol, const TargetElement& target);
  [[nodiscard]] YieldTerms at(double ion_ev) const;

 private:
  TargetElement target_;
  double to_reduced_, to_sn_ev_a2_, k_, g_, a_, threshold_ev_;
};

// Atoms per argon ion that fell through `voltage`. In a magnetron the ion falls through nearly the
// whole cathode voltage; the yield is taken at the voltage itself, which is within its accuracy.
[[nodiscard]] Ratio argon_yield(const TargetElement& target, Voltage voltage);

class ArgonYield {
 public:
  explicit ArgonYield(const TargetElement& target);
  [[nodiscard]] Ratio at(Voltage voltage) const { return Ratio::of(yield_.at(voltage.value()).yield); }

 private:
  SputterYield yield_;
};

// Relative standard uncertainty of argon_yield: 25 %.
[[nodiscard]] inline Ratio yield_uncertainty() { return Ratio::of(0.25); }

}  // namespace vacuary::physics
