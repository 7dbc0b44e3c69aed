#include "run/pumps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "physics/physics.hpp"

namespace vacuary::run {
namespace {

constexpr double settling_s = 60;              // gas and throttle need this long at least
constexpr double pulse_sure = 6;               // times what chance would give
constexpr double pulse_least = 0.03;           // of the pressure between pulses
constexpr double throttle_uncertainty = 0.02;  // of its setting

bool high_vacuum_alone(const plan::Chamber& chamber, const plan::Step& step) {
  bool any = false;
  for (const plan::GivenText& name : step.pumps) {
    const plan::Pump* pump = plan::pump(chamber, name.value);
    if (pump == nullptr) continue;
    if (pump->kind == plan::PumpKind::roughing) return false;
    any = true;
  }
  return any;
}

double planned_flow(const plan::Step& step) {
  double sum = 0;
  for (const plan::GasFlow& gas : step.gas) sum += gas.flow.value.value();
  return sum;
}

double mean_of(const Thinned& samples) {
  Sum sum;
  for (const Thinned::Point& p : samples.points()) sum.add(p.value);
  return sum.value() / static_cast<double>(samples.points().size());
}

// ln(end over start) of a straight line through ln(value), with what its scatter and the correlation of
// neighbours make of it.
std::optional<Estimate<Ratio>> growth_of(const Thinned& samples) {
  std::vector<double> t, y;
  for (const Thinned::Point& p : samples.points()) {
    t.push_back(p.t_s);
    y.push_back(std::log(p.value));
  }
  if (t.size() < 12) return std::nullopt;
  const physics::Line line = physics::fit_line(t, y);
  std::vector<double> residuals;
  for (std::size_t i = 0; i < t.size(); ++i) residuals.push_back(y[i] - line.at(t[i]));
  const double span_s = t.back() - t.front();
  const double u = line.slope_uncertainty * span_s * std::sqrt(physics::correlation_inflation(residuals));
  const double grown = std::exp(line.slope * span_s);
  return Estimate<Ratio>{Ratio::of(grown), Ratio::of(grown * u)};
}

}  // namespace

// ---------------------------------------------------------------- once per turn

void Fold::close_turn() {
  for (Bin& bin : bins_) {
    if (bin.n > 0) {
      const double mean = bin.now.value() / static_cast<double>(bin.n);
      bin.means.add(mean);
      bin.squares.add(mean * mean);
      ++bin.turns;
    }
    bin.now = Sum{};
    bin.n = 0;
  }
  ++turns_;
}

void Fold::add(double turned_rad, double angle_rad, double value) {
  if (!any_) turn_from_rad_ = turned_rad;
  any_ = true;
  if (turned_rad - turn_from_rad_ >= full_turn_rad) {
    close_turn();
    turn_from_rad_ += full_turn_rad;
  }
  double share = std::fmod(angle_rad, full_turn_rad) / full_turn_rad;
  if (share < 0) share += 1;
  Bin& bin = bins_[std::min(bins - 1, static_cast<std::size_t>(share * bins))];
  bin.now.add(value);
  ++bin.n;
}

std::optional<Fold::Pulse> Fold::pulse() const {
  if (turns_ < 3) return std::nullopt;
  std::vector<double> means;
  double variance = 0, freedom = 0;
  std::size_t highest = 0;
  for (std::size_t i = 0; i < bins; ++i) {
    const auto n = static_cast<double>(bins_[i].turns);
    if (bins_[i].turns < 2) return std::nullopt;
    const double mean = bins_[i].means.value() / n;
    variance += std::max(bins_[i].squares.value() - n * mean * mean, 0.0);
    freedom += n - 1;
    means.push_back(mean);
    if (mean > means[highest]) highest = i;
  }
  std::vector<double> sorted = means;
  std::nth_element(sorted.begin(), sorted.begin() + bins / 2, sorted.end());
  const double base = sorted[bins / 2];
  const double by_chance = std::sqrt(variance / freedom / static_cast<double>(turns_));
  const double high = means[highest] - base;
  if (!(high > pulse_sure * by_chance) || !(high > pulse_least * base)) return std::nullopt;
  return Pulse{static_cast<double>(turns_), high / base, base,
               (static_cast<double>(highest) + 0.5) / bins * full_turn_rad};
}

// ---------------------------------------------------------------- rows

PumpWatch::PumpWatch(const Scene& scene) : scene_(scene), gas_(scene.plan.recipe.steps.size()) {
  for (std::size_t s = 0; s < scene.plan.recipe.steps.size(); ++s) {
    const plan::Step& step = scene.plan.recipe.steps[s];
    if (step.kind != plan::StepKind::pumpdown) continue;
    for (const plan::GivenText& name : step.pumps) {
      const plan::Pump* pump = plan::pump(scene.plan.chamber, name.value);
      if (pump == nullptr || pump->kind != plan::PumpKind::roughing) continue;
      for (std::size_t i = 0; i < pump->stages.size(); ++i) {
        const double high_pa = pump->stages[i].below.value.value();
        const double ultimate_pa = pump->ultimate ? pump->ultimate->value.value() : 0;
        const double low_pa = i + 1 < pump->stages.size() ? pump->stages[i + 1].below.value.value()
                                                          : std::max(20 * ultimate_pa, 1e-3 * high_pa);
        stages_.push_back({static_cast<int>(s),
                           pump,
                           high_pa,
                           low_pa,
                           pump->number.value.value() * pump->stages[i].speed.value.value(),
                           {},
                           false,
                           {}});
      }
    }
  }
}

void PumpWatch::take(const Stretch& rows) {
  const plan::Step* step = scene_.step(rows.step());
  if (step == nullptr) return;
  if (!step->gas.empty()) gas_rows(rows, *step);
  if (step->kind != plan::StepKind::pumpdown) return;
  for (Stage& stage : stages_) {
    if (stage.step == rows.step()) stage_rows(rows, stage);
  }
}

void PumpWatch::gas_rows(const Stretch& rows, const plan::Step& step) {
  GasStep& here = gas_[static_cast<std::size_t>(rows.step())];
  const double settle_s = greater(settling_s, step.settle ? step.settle->value.value() : 0.0);
  const double least_mol_s = 0.02 * planned_flow(step);
  for (const Row& row : rows) {
    if (std::isnan(row.pressure_pa)) continue;
    double moved = wrapped_rad(row.angle_rad - last_angle_rad_);
    last_angle_rad_ = row.angle_rad;
    if (std::isnan(moved)) moved = std::isnan(row.speed_rad_s) ? 0 : row.speed_rad_s * row.dt_s;
    here.turned_rad += std::abs(moved);
    if (row.step_age_s < settle_s || row.gap || !(row.gas_mol_s > least_mol_s)) continue;
    if (!here.any) here.start = row.time;
    here.any = true;
    const double ratio = row.pressure_pa / row.gas_mol_s;
    here.ratio.add(seconds(here.start, row.time), ratio);
    here.flow.add(row.gas_mol_s);
    if (row.gauge >= 0) here.gauge_u.add(row.gauge_u);
    ++here.n;
    if (std::abs(moved) > 1e-4 * row.dt_s) {
      here.fold.add(here.turned_rad, std::isnan(row.angle_rad) ? here.turned_rad : row.angle_rad, ratio);
    } else {
      here.at_rest.add(seconds(here.start, row.time), ratio);
    }
  }
}

void PumpWatch::stage_rows(const Stretch& rows, Stage& stage) {
  for (const Row& row : rows) {
    if (!(row.pressure_pa <= stage.high_pa) || row.pressure_pa < stage.low_pa) continue;
    if (!stage.any) stage.start = row.time;
    stage.any = true;
    stage.samples.add(seconds(stage.start, row.time), row.pressure_pa);
  }
}

// ---------------------------------------------------------------- what they say

double PumpWatch::flow_uncertainty(const plan::Step& step, double flow_mol_s) const {
  double variance = 0;
  for (const plan::GasFlow& gas : step.gas) {
    const plan::GasLine* line = plan::gas_line(scene_.plan.chamber, gas.line.value);
    if (line == nullptr) continue;
    const double u =
        line->accuracy.value.value() * line->full_scale.value.resolve(scene_.plan.chamber.reference).value();
    variance += u * u;
  }
  return std::sqrt(variance) / flow_mol_s;
}

void PumpWatch::tell_gas(std::size_t s, VacuumHealth& health) const {
  const GasStep& here = gas_[s];
  const plan::Step& step = scene_.plan.recipe.steps[s];
  const plan::Chamber& chamber = scene_.plan.chamber;
  const std::optional<Estimate<Pressure>> planned = model::working_pressure(chamber, step);
  if (!planned || here.ratio.points().size() < 3 || !(planned->value.value() > 0)) return;
  const double throttle = step.throttle ? step.throttle->value.value() : 1;
  const double flow = planned_flow(step);
  const double rt = constants::gas_j_per_mol_k * thermodynamic(chamber.gas_temperature.value).value();
  const double expected = rt * flow / planned->value.value() / throttle;
  const double ratio = mean_of(here.ratio);
  const double found = expected * planned->value.value() / flow / ratio;  // (V1)
  const auto n = static_cast<double>(here.n);
  const double u = std::hypot(here.gauge_u.value() / n, flow_uncertainty(step, here.flow.value() / n),
                              throttle_uncertainty);
  EffectiveSpeed speed;
  speed.step = step.name.value;
  speed.how = "gas flow over pressure";
  speed.high_vacuum = high_vacuum_alone(chamber, step);
  speed.found = {PumpingSpeed::from_value(found), PumpingSpeed::from_value(found * u)};
  speed.expected = {PumpingSpeed::from_value(expected),
                    PumpingSpeed::from_value(expected * model::speed_uncertainty)};
  const auto& normal = chamber.history ? chamber.history->argon_speed : plan::Maybe<PumpingSpeed>{};
  if (normal && speed.high_vacuum)
    speed.expected = {normal->value, normal->value * chamber.history->spread.value.value()};
  const std::optional<Fold::Pulse> pulse = here.fold.pulse();
  if (!pulse) speed.growth = growth_of(here.ratio);
  health.speeds.push_back(speed);
  if (!pulse) return;
  TurnPulse told;
  told.step = step.name.value;
  told.turns = Count::of(pulse->turns);
  told.height = Ratio::of(pulse->height);
  const double air = speed.high_vacuum ? model::high_vacuum_speed(chamber, "N2").value() : found;
  const double inflow = pulse->height * pulse->base * (here.flow.value() / n) * air * throttle / rt;
  told.inflow = {MolarFlow::from_value(inflow), MolarFlow::from_value(0.2 * inflow)};
  told.at = Angle::from_value(pulse->at_rad);
  // At rest in this step, or in one before it with the same gas and throttle.
  for (std::size_t other = 0; other <= s; ++other) {
    const plan::Step& rest = scene_.plan.recipe.steps[other];
    const bool alike = rest.throttle.has_value() == step.throttle.has_value() &&
                       (!rest.throttle || rest.throttle->value == step.throttle->value) &&
                       rest.pumps.size() == step.pumps.size() &&
                       std::abs(planned_flow(rest) / flow - 1) < 0.05;
    if (alike && gas_[other].at_rest.points().size() >= 3)
      told.standing = Ratio::of(mean_of(gas_[other].at_rest) / pulse->base);
  }
  health.pulses.push_back(told);
}

void PumpWatch::tell_stage(const Stage& stage, VacuumHealth& health) const {
  std::vector<physics::PressureSample> samples;
  for (const Thinned::Point& p : stage.samples.points())
    samples.push_back({Duration::from_value(p.t_s), Pressure::from_value(p.value)});
  const Pressure floor = stage.pump->ultimate ? stage.pump->ultimate->value : Pressure{};
  const auto fit = physics::fit_speed(samples, scene_.plan.chamber.volume.value, floor);  // (V2)
  if (!fit) return;
  EffectiveSpeed speed;
  speed.step = scene_.step_name(stage.step);
  const Unit& mbar = unit("mbar", Kind::pressure);
  speed.how = fmt::format("fall of the pressure from {} to {}",
                          brief(Pressure::from_value(samples.front().pressure.value()), mbar, 2),
                          brief(Pressure::from_value(samples.back().pressure.value()), mbar, 2));
  speed.found = fit->speed;
  speed.expected = {PumpingSpeed::from_value(stage.speed_m3_s),
                    PumpingSpeed::from_value(stage.speed_m3_s * model::speed_uncertainty)};
  health.speeds.push_back(std::move(speed));
}

void PumpWatch::tell(VacuumHealth& health) const {
  for (const Stage& stage : stages_) tell_stage(stage, health);
  for (std::size_t s = 0; s < gas_.size(); ++s) tell_gas(s, health);
}

}  // namespace vacuary::run
