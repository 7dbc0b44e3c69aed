// Power that comes up in a ramp, and the film of several steps with its budget. Inside `model` only.
#pragma once

#include <string>
#include <vector>

#include "model/model.hpp"

namespace vacuary::model {

// A linear ramp from zero to `power` at the step's start: what it leaves out of power times time.
struct Ramp {
  double power_w = 0;
  double ramp_s = 0;
  [[nodiscard]] double energy_j(double time_s) const;
  [[nodiscard]] double time_s(double energy_j) const;
};

// A film's budget over several steps: kappa, power and gauge errors are common to all of them, so
// contributions add in proportion to each step's film.
class FilmSum {
 public:
  void add(Length film, const std::vector<BudgetLine>& budget);
  [[nodiscard]] std::vector<BudgetLine> budget() const;  // largest share first
  [[nodiscard]] Estimate<Length> estimate() const;

 private:
  struct Line {
    std::string name;
    double input = 0, weighted = 0;
  };
  Line& line_of(const std::string& name);
  [[nodiscard]] double variance() const;  // relative

  std::vector<Line> lines_;
  double total_m_ = 0;
};

}  // namespace vacuary::model
