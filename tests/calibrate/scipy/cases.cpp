// The sample strip for compare.py: what was measured and what is known beforehand, the fit as calibrate makes
// it, and then the film the model has at each point for every line of parameters that comes in.
//
//   points N            then N lines: thickness, standard uncertainty (m)
//   known 4             then 4 lines: value, standard uncertainty (SI), held by the chamber file (0 or 1)
//   held K              then K lines: standard uncertainty
//   fit M               then M lines: value, standard uncertainty; held ones in their uncertainties
//   ready               from here on a line of M parameters in gives a line of N thicknesses out
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <iostream>
#include <sstream>

#include "calibrate/fit.hpp"

int main(int count, char** words) {
  using namespace vacuary;
  const std::string folder = std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/";
  const auto plan = plan::load(folder + "aluminium-90nm.toml");
  if (!plan.ok()) return 2;
  const auto strip = plan::load_strip(folder + "strip.toml", plan.value());
  if (!strip.ok()) return 2;
  const calibrate::StripModel model(plan.value(), strip.value(), calibrate::Range{});
  const plan::Cathode& cathode = *plan::cathode(plan.value().chamber, strip.value().cathode.value);
  const calibrate::Solved solved = fit_strip(model, strip.value(), calibrate::known_from(cathode));
  const bool free = count > 1 && std::string(words[1]) == "free";
  const calibrate::Problem& problem = solved.problem;
  const physics::NonlinearFit& fit = free ? solved.all_free : solved.fit;

  fmt::print("points {}\n", problem.measured_m.size());
  for (std::size_t i = 0; i < problem.measured_m.size(); ++i)
    fmt::print("{:.17g} {:.17g}\n", problem.measured_m[i], problem.uncertainty_m[i]);
  fmt::print("known 4\n");
  for (std::size_t j = 0; j < calibrate::parameter_count; ++j)
    fmt::print("{:.17g} {:.17g} {}\n", problem.known.value[j], problem.known.uncertainty[j],
               !free && problem.from_file[j] ? 1 : 0);
  fmt::print("held {}\n", model.held().size());
  for (const calibrate::Held& held : model.held()) fmt::print("{:.17g}\n", held.uncertainty);
  fmt::print("fit {}\n", fit.parameters.size());
  for (std::size_t k = 0; k < fit.parameters.size(); ++k)
    fmt::print("{:.17g} {:.17g}\n", fit.parameters[k], std::sqrt(fit.covariance[k][k]));
  fmt::print("ready\n");
  std::fflush(stdout);

  std::string line;
  while (std::getline(std::cin, line)) {
    std::istringstream in(line);
    std::vector<double> p;
    for (double value = 0; in >> value;) p.push_back(value);
    if (p.size() != fit.parameters.size()) return 2;
    for (std::size_t k = 0; k < model.held().size(); ++k)
      p[calibrate::parameter_count + k] *= model.held()[k].uncertainty;
    for (const double film : model.film_m(p)) fmt::print("{:.17g} ", film);
    fmt::print("\n");
    std::fflush(stdout);
  }
  return 0;
}
