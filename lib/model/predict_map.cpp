// The film map of a recipe: the doses of its sputter steps as planned.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "model/chamber_state.hpp"
#include "model/model.hpp"

namespace vacuary::model {
namespace {

constexpr MapGrid predicted_grid{64, 720, 1};
constexpr int ramp_pieces = 40;

// Film grows with the energy: quadratically while the power is ramped up, then evenly.
void lay(const plan::Step& step, Duration time, Length film, Pressure pressure, FilmDose& dose) {
  const double speed = step.rotation ? step.rotation->value.value() : 0;
  const double time_s = time.value();
  const double ramp_s = step.ramp ? std::min(step.ramp->value.value(), time_s) : 0;
  const double even_s = time_s - ramp_s / 2;  // what the film would take at full power
  if (!(even_s > 0)) return;
  const double rate = film.value() / even_s;
  const auto at = [&](double t) { return Angle::from_value(speed * t); };
  for (int i = 0; i < ramp_pieces && ramp_s > 0; ++i) {
    const double from = ramp_s * i / ramp_pieces, to = ramp_s * (i + 1) / ramp_pieces;
    dose.add(at(from), at(to), Length::from_value(rate * (to * to - from * from) / (2 * ramp_s)), pressure);
  }
  dose.add(at(ramp_s), at(time_s), Length::from_value(rate * (time_s - ramp_s)), pressure);
}

}  // namespace

std::optional<FilmMap> predict_film_map(const plan::Plan& plan, const Prediction& prediction) {
  if (!plan.optic || !prediction.film || !(prediction.film->value.value() > 0)) return std::nullopt;
  std::vector<FilmDose> doses;
  std::vector<CathodeKernels> kernels;
  double variance = 0;
  for (const plan::Cathode& cathode : plan.chamber.cathodes) {
    FilmDose dose(plan.recipe, cathode, predicted_grid.angles);
    const Estimate<Ratio> mean = clear_area_mean(cathode, *plan.optic);
    for (std::size_t i = 0; i < prediction.steps.size() && i < plan.recipe.steps.size(); ++i) {
      const plan::Step& step = plan.recipe.steps[i];
      const StepPrediction& s = prediction.steps[i];
      if (step.kind != plan::StepKind::sputter || !step.cathode || step.cathode->value != cathode.name.value)
        continue;
      if (!s.film || !s.duration) return std::nullopt;
      const Pressure pressure = step.pressure        ? step.pressure->value
                                : s.working_pressure ? s.working_pressure->value
                                                     : cathode.calibration.pressure.value;
      lay(step, s.duration->value, s.film->value / mean.value.value(), pressure, dose);
    }
    if (dose.total().value() > 0) {
      doses.push_back(std::move(dose));
      kernels.emplace_back(cathode, *plan.optic, predicted_grid);
      const double shape_u = mean.standard_uncertainty.value() / mean.value.value();
      variance = std::max(variance, shape_u * shape_u);
    }
  }
  if (doses.empty()) return std::nullopt;
  const double relative = prediction.film->standard_uncertainty / prediction.film->value;
  const double scale = std::sqrt(std::max(relative * relative - variance, 0.0));
  return film_map(*plan.optic, doses, Ratio::of(scale), kernels);
}

}  // namespace vacuary::model
