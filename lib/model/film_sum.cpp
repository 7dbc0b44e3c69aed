#include "model/film_sum.hpp"

#include <algorithm>
#include <cmath>

namespace vacuary::model {

double Ramp::energy_j(double time_s) const {
  if (time_s < ramp_s) return power_w * time_s * time_s / (2 * ramp_s);
  return power_w * (time_s - ramp_s / 2);
}

double Ramp::time_s(double energy_j) const {
  const double in_ramp_j = power_w * ramp_s / 2;
  if (energy_j < in_ramp_j) return std::sqrt(2 * energy_j * ramp_s / power_w);
  return energy_j / power_w + ramp_s / 2;
}

void FilmSum::add(Length film, const std::vector<BudgetLine>& budget) {
  total_m_ += film.value();
  for (const BudgetLine& line : budget) {
    Line& mine = line_of(line.input);
    mine.weighted += line.contribution.value() * film.value();
    mine.input = std::max(mine.input, line.standard_uncertainty.value());
  }
}

std::vector<BudgetLine> FilmSum::budget() const {
  std::vector<BudgetLine> result;
  const double whole = variance();
  for (const Line& line : lines_) {
    const double c = total_m_ > 0 ? line.weighted / total_m_ : 0;
    result.push_back(
        {line.name, Ratio::of(line.input), Ratio::of(c), Ratio::of(whole > 0 ? c * c / whole : 0)});
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const BudgetLine& a, const BudgetLine& b) { return a.share > b.share; });
  return result;
}

Estimate<Length> FilmSum::estimate() const {
  return {Length::from_value(total_m_), Length::from_value(total_m_ * std::sqrt(variance()))};
}

FilmSum::Line& FilmSum::line_of(const std::string& name) {
  for (Line& line : lines_) {
    if (line.name == name) return line;
  }
  lines_.push_back({name, 0, 0});
  return lines_.back();
}

double FilmSum::variance() const {
  double sum = 0;
  for (const Line& line : lines_) {
    const double c = total_m_ > 0 ? line.weighted / total_m_ : 0;
    sum += c * c;
  }
  return sum;
}

}  // namespace vacuary::model
