#include "physics/estimates.hpp"

#include <bit>
#include <cmath>
#include <cstdint>

namespace vacuary::physics {
namespace {

// The mean of the estimates whose bit is set.
WeightedMean mean_of(const std::vector<NamedEstimate>& estimates, std::uint32_t chosen) {
  std::vector<double> values;
  std::vector<double> uncertainties;
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    if ((chosen >> i & 1U) == 0) continue;
    values.push_back(estimates[i].estimate.value.value());
    uncertainties.push_back(estimates[i].estimate.standard_uncertainty.value());
  }
  return weighted_mean(values, uncertainties);
}

// (E4) by looking at every subset: a handful of estimates has few.
std::uint32_t largest_consistent_subset(const std::vector<NamedEstimate>& estimates) {
  const std::uint32_t all = (1U << estimates.size()) - 1;
  std::uint32_t best = 0;
  WeightedMean best_mean;
  for (std::uint32_t chosen = 1; chosen <= all; ++chosen) {
    if (std::popcount(chosen) < std::popcount(best)) continue;
    const WeightedMean mean = mean_of(estimates, chosen);
    if (!mean.consistent) continue;
    const bool larger = std::popcount(chosen) > std::popcount(best);
    if (!larger && mean.birge_ratio >= best_mean.birge_ratio) continue;
    best = chosen;
    best_mean = mean;
  }
  return best;
}

}  // namespace

CombinedEstimates combine_estimates(const std::vector<NamedEstimate>& estimates) {
  const std::uint32_t all = (1U << estimates.size()) - 1;
  const WeightedMean mean = mean_of(estimates, all);
  const std::uint32_t subset = mean.consistent ? all : largest_consistent_subset(estimates);
  CombinedEstimates out;
  out.uncertainty_if_consistent = Length::from_value(mean.uncertainty);
  const double u = mean.consistent ? mean.uncertainty : mean.widened();
  out.mean = {Length::from_value(mean.mean), Length::from_value(u)};
  out.chi_squared = mean.chi_squared;
  out.birge_ratio = mean.birge_ratio;
  out.probability = mean.probability;
  out.consistent = mean.consistent;
  const double variance = mean.uncertainty * mean.uncertainty;
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    const double own = estimates[i].estimate.standard_uncertainty.value();
    Equivalence e;
    e.name = estimates[i].name;
    e.weight = Ratio::of(variance / (own * own));
    e.difference = Length::from_value(estimates[i].estimate.value.value() - mean.mean);
    e.difference_uncertainty = Length::from_value(std::sqrt(std::max(0.0, own * own - variance)));  // (E3)
    e.agrees =
        std::abs(e.difference.value()) <= 2 * e.difference_uncertainty.value() || estimates.size() == 1;
    e.in_consistent_subset = (subset >> i & 1U) != 0;
    out.each.push_back(std::move(e));
  }
  const WeightedMean part = mean_of(estimates, subset);
  out.consistent_mean = {Length::from_value(part.mean), Length::from_value(part.uncertainty)};
  return out;
}

}  // namespace vacuary::physics
