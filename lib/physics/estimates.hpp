// Several estimates of one thickness (energy, crystal, witness step, target mass) brought together.
//
//   (E1)  weighted mean y = sum w_i x_i / sum w_i, w_i = u_i^-2; u^2(y) = 1 / sum w_i
//   (E2)  the estimates agree when P(chi^2_(n-1) > sum w_i (x_i - y)^2) is at least 5 %
//   (E3)  degree of equivalence d_i = x_i - y, u^2(d_i) = u_i^2 - u^2(y)
//   (E4)  when (E2) fails: the largest subset of the estimates that passes it, and among subsets as large
//         the one with the least chi^2 a degree of freedom
// (E1) to (E3): M. G. Cox, Metrologia 39, 589 (2002), procedure A; (E4): M. G. Cox, Metrologia 44, 187
// (2007). A mean of estimates that disagree keeps all of them and is widened by the Birge ratio
// (uncertainty.hpp): no estimate is thrown away in silence, (E4) only says which one to look into.
//
// Range: independent estimates. Two that share a calibration (a film per energy that was fitted to the
// same step gauge as today's witness) are not: their agreement proves less than the test says.
#pragma once

#include <string>
#include <vector>

#include "physics/uncertainty.hpp"
#include "quantity/types.hpp"

namespace vacuary::physics {

struct NamedEstimate {
  std::string name;           // "energy", "crystal", "witness step", "target mass"
  Estimate<Length> estimate;  // uncertainty more than zero
};

struct Equivalence {
  std::string name;
  Ratio weight;                   // in the mean
  Length difference;              // (E3), signed
  Length difference_uncertainty;  // standard; zero for a single estimate
  bool agrees = true;             // |d| <= 2 u(d)
  bool in_consistent_subset = true;
};

struct CombinedEstimates {
  Estimate<Length> mean;  // (E1); its uncertainty widened by the Birge ratio when they disagree
  Length uncertainty_if_consistent;
  double chi_squared = 0, birge_ratio = 0, probability = 1;
  bool consistent = true;
  std::vector<Equivalence> each;     // in the order given
  Estimate<Length> consistent_mean;  // of the subset (E4); the mean itself when all agree
};

// Precondition: 1 to 16 estimates.
[[nodiscard]] CombinedEstimates combine_estimates(const std::vector<NamedEstimate>& estimates);

}  // namespace vacuary::physics
