// Uncertainty of a result from that of its inputs.
//
//   (U1)  u_c^2(y) = sum (c_i u(x_i))^2, c_i = dy/dx_i        JCGM 100:2008, 5.1.2, inputs uncorrelated
//   (U2)  nu_eff = u_c^4 / sum ((c_i u_i)^4 / nu_i)           Welch-Satterthwaite, JCGM 100 G.4.1
//   (U3)  weighted mean x = sum w_i x_i / sum w_i, w_i = 1 / u_i^2; u^2 = 1 / sum w_i
//   (U4)  chi^2 = sum w_i (x_i - x)^2 with n - 1 degrees of freedom; Birge ratio R = sqrt(chi^2 / (n - 1))
//
// (U1) needs a model that is straight over +/- u of each input; where it is not, monte_carlo()
// (JCGM 101:2008) propagates distributions instead.
// (U3) is right only if the estimates agree; (U4) says when they do not (R. T. Birge, Phys. Rev. 40,
// 207, 1932). A mean of estimates that disagree is reported with u multiplied by R.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace vacuary::physics {

// One input. The unit of `uncertainty` times that of `sensitivity` is the result's.
struct UncertaintyInput {
  std::string name;
  double uncertainty = 0;  // standard
  double sensitivity = 1;
  double degrees_of_freedom = 0;  // 0: infinitely many
};

struct UncertaintyLine {
  std::string name;
  double uncertainty = 0;
  double contribution = 0;  // |c u|, in the result's unit
  double share = 0;         // of the combined variance, 0 to 1
};

struct CombinedUncertainty {
  double combined = 0;                      // (U1)
  double effective_degrees_of_freedom = 0;  // (U2); infinity when no input has a finite number
  std::vector<UncertaintyLine> lines;       // largest share first
};
[[nodiscard]] CombinedUncertainty combine(const std::vector<UncertaintyInput>& inputs);

// Factor for a two-sided interval of probability `p` of Student's t with `degrees_of_freedom`.
[[nodiscard]] double student_factor(double p, double degrees_of_freedom);

struct WeightedMean {
  double mean = 0;
  double uncertainty = 0;  // (U3), not widened
  double chi_squared = 0;  // (U4)
  double birge_ratio = 0;  // 0 for a single estimate
  double probability = 1;  // of a chi^2 at least this large if all is well
  bool consistent = true;  // probability at least 5 %
  [[nodiscard]] double widened() const { return uncertainty * (birge_ratio > 1 ? birge_ratio : 1); }
};
// Preconditions: as many uncertainties as values, at least one, all positive.
[[nodiscard]] WeightedMean weighted_mean(const std::vector<double>& values,
                                         const std::vector<double>& uncertainties);

// Probability of a chi^2 at least this large with so many degrees of freedom; 1 without any.
[[nodiscard]] double chi_squared_probability(double chi_squared, std::size_t degrees_of_freedom);

// Random numbers that are the same on every machine: number `index` of stream `stream` of `seed`,
// by a counter-based generator (Salmon et al., Proc. SC11, 2011: Philox 4x32-10), so that trials
// can be drawn in any order and on any number of threads.
class Random {
 public:
  explicit Random(std::uint64_t seed) : seed_(seed) {}
  [[nodiscard]] double uniform(std::uint64_t stream, std::uint64_t index) const;  // in (0, 1)
  [[nodiscard]] double normal(std::uint64_t stream, std::uint64_t index) const;   // mean 0, u 1
  // Philox 4x32-10 of a counter and a key, for the check against published vectors.
  static void philox(const std::uint32_t counter[4], const std::uint32_t key[2], std::uint32_t out[4]);

 private:
  std::uint64_t seed_;
};

enum class Distribution : std::uint8_t { normal, rectangular, lognormal };
// `uncertainty` is standard; lognormal: of the value, with `value` its median and uncertainty / value
// the standard deviation of its logarithm.
struct RandomInput {
  double value = 0;
  double uncertainty = 0;
  Distribution distribution = Distribution::normal;
};

struct MonteCarlo {
  double mean = 0, uncertainty = 0;
  double low = 0, high = 0;  // probabilistically symmetric 95 % interval
};
// JCGM 101 7: `trials` evaluations of `model` of one draw of each input. Same seed, same answer.
[[nodiscard]] MonteCarlo monte_carlo(const std::vector<RandomInput>& inputs,
                                     const std::function<double(const std::vector<double>&)>& model,
                                     std::uint64_t seed, std::size_t trials = 100000);

}  // namespace vacuary::physics
