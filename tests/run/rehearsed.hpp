// Accounts of rehearsed runs on the sample plant's channel map.
#pragma once

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "rehearse/rehearse.hpp"
#include "run/hand.hpp"

namespace vacuary::run::test {

inline Account rehearsed(const plan::Plan& plan, std::uint64_t seed,
                         const std::vector<std::string>& faults = {}) {
  rehearse::Options options;
  options.seed = seed;
  options.map = &sample_map();
  for (const std::string& fault : faults) options.faults.push_back(rehearse::parse_fault(fault).value());
  const auto made = rehearse::rehearse(plan, options);
  REQUIRE(made.has_value());
  return account_of(plan, sample_map(), read_plainly(made.value().log_csv, plan.chamber.reference));
}

}  // namespace vacuary::run::test
