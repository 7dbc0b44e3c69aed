// Several ways of knowing the mean film, brought together: energy, crystals, what the target lost, and what
// was measured on the glass.
#pragma once

#include <vector>

#include "run/run.hpp"

namespace vacuary::run {

// Sets Film::estimates (none when nothing stands beside the energy). `targets`: what energy each target saw.
void bring_together(const plan::Plan& plan, const std::vector<TargetLife>& targets,
                    const std::vector<plan::Measured>& measured, Film& film);

// The mean to judge by: of all estimates when one of them was measured, else by energy; none: not known.
[[nodiscard]] std::optional<Estimate<Length>> best_mean(const Film& film);

}  // namespace vacuary::run
